// @ts-check
// Kit: faults and notes, each with a way to its place; the kit's folder; writing it, and what was written.
import { el, fillIn, sentence } from "/form.js";
import { roomOf } from "/page.js";

/** @param {any} app @param {HTMLElement} room */
export function kitRoom(app, room) {
  const found = el("section", { class: "card", "aria-label": "Found" }), write = el("section", { class: "card", "aria-label": "Write the kit" }), files = el("section", { "aria-label": "Written" });
  room.append(el("div", { class: "two" }, found, write), files);
  const bar = el("progress", { max: 1, value: 0, hidden: true, "aria-label": "Writing the kit" }), words = el("p", { role: "status", id: "kit-words" }), go = el("button", { type: "button", class: "main", id: "write-kit", text: "Write the kit", onclick: () => writeIt(false) }), force = el("button", { type: "button", id: "write-over", text: "Write over them", hidden: true, onclick: () => writeIt(true) });
  let busy = false;
  write.append(el("h3", { text: "Write the kit" }), el("p", { class: "quiet" }), el("p", {}, go, " ", force), bar, words);

  function tell() {
    const all = [...app.found].sort((a, b) => weight(a) - weight(b)), faults = all.filter(f => f.severity === "fault").length;
    fillIn(found, el("h3", { text: all.length ? "What was found" : "Nothing is wrong" }));
    if (app.job.new) found.append(el("p", { text: "There is no job yet: begin with the cup." }));
    else if (!all.length) found.append(el("p", { class: "tick", text: app.upToDate ? "Everything was measured twice." : "As far as the job was read." }));
    found.append(el("ul", { class: "plain" }, all.map(f => el("li", {}, el("p", { class: f.severity === "fault" ? "fault" : f.severity === "warning" ? "warn" : "note" }, sentence(f), " ", f.steps.length ? el("a", { href: `#${roomOf(f.steps)}`, text: `Show it under ${roomOf(f.steps)[0].toUpperCase() + roomOf(f.steps).slice(1)}`, onclick: (/** @type {Event} */ e) => { e.preventDefault(); app.go(roomOf(f.steps), f.steps); } }) : null)))));
    const q = write.querySelector("p");
    if (q) q.textContent = `Everything to cut, place and sell this cup goes into ${app.job.folder}/kit: the same files that “frusta make” writes${app.effort === "quick" || !app.plan ? "" : app.effort === "stopped" ? " – but the film as the stopped search left it" : ` --effort ${app.effort}`}.`;
    go.disabled = busy || app.job.new || faults > 0 || app.job.looks;
  }
  const weight = (/** @type {any} */ f) => ({ fault: 0, warning: 1, note: 2 })[/** @type {"fault"} */ (f.severity)] ?? 3;
  /** @param {boolean} over */
  async function writeIt(over) {
    busy = true;
    force.hidden = true;
    tell();
    bar.hidden = false;
    bar.removeAttribute("value");
    words.textContent = "Making the plan and measuring everything a second time …";
    let n = 0, done = /** @type {any} */ (null), faults = /** @type {any[] | null} */ (null);
    try {
      await app.queue;
      await app.lines("/api/kit", { rev: app.job.rev, effort: app.upToDate && !app.moved && app.effort !== "stopped" ? app.effort : "quick", force: over }, (/** @type {any} */ l) => {
        if (l.plan) app.takePlan(l, app.job.rev);
        if (l.file) { n++; words.textContent = `${n} files: ${l.file}`; }
        if (l.stage === "waits") words.textContent = "Another run writes there: waiting for it …";
        if (l.faults) faults = l.faults;
        if (l.kit) done = l.kit;
      });
    } catch (e) { faults = [{ says: `the kit was not written: ${/** @type {any} */ (e).message}`, severity: "fault", steps: [] }]; }
    busy = false;
    bar.hidden = true;
    if (done) {
      words.textContent = `${done.files.length} files are in ${done.folder}.`;
      words.className = "tick";
      app.say(words.textContent);
      written(done);
    } else {
      const all = faults || [{ says: "this is a defect of frusta, not of the job; nothing was written", steps: [] }];
      words.className = "fault";
      words.textContent = all.map((/** @type {any} */ f) => sentence(f)).join(" ");
      force.hidden = !all.some((/** @type {any} */ f) => f.code === "files/not-the-kits");
    }
    tell();
  }
  /** @param {any} kit */
  function written(kit) {
    const stills = kit.files.map((/** @type {any} */ f, /** @type {number} */ i) => [f[0], i]).filter((/** @type {any} */ [n]) => /^view\/.*\.png$/.test(n) && n !== "view/turn.png");
    fillIn(files, el("h3", { text: "Written" }), el("div", { class: "still" }, stills.map((/** @type {any} */ [n, i]) => el("figure", {}, el("img", { src: `/api/kit/${i}?${Date.now()}`, alt: `The cup, ${n.replace(/^view\/|\.png$/g, "")}` }), el("figcaption", { text: n })))),
      el("ul", {}, kit.files.map((/** @type {any} */ f, /** @type {number} */ i) => el("li", {}, el("a", { href: `/api/kit/${i}`, target: "_blank", rel: "noopener", text: f[0] }), ` ${f[1] > 9999 ? `${Math.round(f[1] / 1000)} kB` : `${f[1]} B`}`))));
  }
  const made = { refresh(/** @type {string} */ why) { if (why !== "work") tell(); } };
  made.refresh("plan");
  app.fresh();
  return made;
}
