// @ts-check
// The page: the job as the program holds it, what is changed and shown of it, and the six rooms.
import { Gone, Refused, ask, lines } from "/talk.js";
import { el, key, sentence } from "/form.js";
import { cupRoom } from "/cup.js";
import { artRoom } from "/art.js";
import { wallRoom } from "/wall.js";
import { filmRoom } from "/film.js";
import { finishRoom } from "/finish.js";
import { kitRoom } from "/kit.js";

const by = (/** @type {string} */ id) => /** @type {any} */ (document.getElementById(id));
const ROOMS = /** @type {[string, string, (app: any, room: HTMLElement) => any][]} */ ([
  ["cup", "Cup", cupRoom], ["art", "Art", artRoom], ["wall", "Wall", wallRoom], ["film", "Film", filmRoom], ["finish", "Finish", finishRoom], ["kit", "Kit", kitRoom],
]);

const app = {
  /** @type {any} */ job: null,
  /** @type {any} */ plan: null,
  /** Pieces on the wall by number. @type {Map<number, any>} */ pieces: new Map(),
  /** @type {[number, number][]} */ clashes: [],
  /** Faults of the plan that could not be made. @type {any[]} */ planFaults: [],
  /** Is what is shown of the wall what the job says? */ upToDate: false,
  /** Was it moved since the whole plan? */ moved: false,
  /** @type {any} */ working: null,
  effort: "quick",
  /** @type {"mm" | "in"} */ shows: "mm",
  /** @type {Set<any>} */ fields: new Set(),
  /** @type {any} */ room: null,
  roomName: "",
  savedAt: "",
  /** @type {any} */ chosen: null,

  get unit() { return this.job?.said.unit || "mm"; },
  get doc() { return this.job?.said.doc || {}; },
  /** @param {(string | number)[]} at */
  get(at) { return at.reduce((v, k) => v?.[k], this.doc); },
  get found() { return [...(this.job?.said.found || []), ...(this.job?.said.cup?.found || []), ...this.planFaults, ...(this.upToDate && this.plan ? this.plan.found : [])].filter((f, i, all) => all.findIndex(o => same(o, f)) === i && !(this.job.new && f.severity !== "fault")); },
  /** @param {(string | number)[]} at */
  foundAt(at) { return this.job?.new ? [] : this.found.filter(f => f.steps.length === at.length && f.steps.every((/** @type {any} */ s, /** @type {number} */ i) => s === at[i])); },
  /** What a key is worth where the job does not say it. @param {string} table @param {string} k */
  usual(table, k) { return this.job?.said.settings.find((/** @type {any} */ s) => s[0] === table && s[1] === k)?.[2] || ""; },
  /** @param {string} words */
  say(words) { by("live").textContent = ""; setTimeout(() => { by("live").textContent = words; }, 30); },

  // Changes go one after another, each for the revision that the one before it made.
  queue: Promise.resolve(),
  /** @param {string} what @param {any[]} edits @param {boolean} [goesOn] */
  edit(what, edits, goesOn = false) { return this.change("/api/edit", { what, edits, goes_on: goesOn, unit: this.shows }); },
  /** @param {string} path @param {any} body @returns {Promise<boolean>} */
  change(path, body) {
    const next = this.queue.then(async () => {
      try {
        const sent = typeof body === "string" ? body : { ...body, rev: this.job.rev };
        const made = await ask(path, sent);
        back();
        this.savedAt = new Date().toLocaleTimeString();
        this.take(made, made.followed);
        return true;
      } catch (e) {
        trouble(e);
        if (e instanceof Refused && e.said.kind === "behind") await load();
        return false;
      }
    });
    this.queue = next.then(() => {});
    return next;
  },
  /** Takes the job as the program holds it. @param {any} job @param {any} [followed] */
  take(job, followed) {
    const before = this.job;
    this.job = job;
    if (followed) {
      for (const [n, at] of followed.at) { const p = this.pieces.get(n); if (p) p.at = at; }
      for (const n of followed.gone) this.pieces.delete(n);
      for (const p of followed.new) this.pieces.set(p.n, p);
      this.clashes = followed.clashes;
      if (this.plan) this.plan.pinned = followed.pinned;
      this.upToDate = true;
      this.moved = this.moved || followed.at.length > 0;
      this.planFaults = [];
    } else if (before && before.rev !== job.rev) {
      this.upToDate = false;
      this.replan(150);
    }
    this.refresh(followed ? "moved" : "job", followed);
  },
  /** @type {any} */ timer: 0,
  /** Makes the whole plan anew. @param {number} [wait] @param {string} [effort] */
  replan(wait = 0, effort = "quick") {
    clearTimeout(this.timer);
    this.working?.stop.abort();
    return new Promise(done => {
      this.timer = setTimeout(async () => {
        if (this.job.new || !this.doc.cup) { this.plan = null; this.pieces.clear(); this.planFaults = []; this.upToDate = false; this.refresh("plan"); done(false); return; }
        const work = { stop: new AbortController(), effort, stage: "", film: null, since: Date.now(), rev: this.job.rev };
        this.working = work;
        this.refresh("work");
        let good = false;
        try {
          await lines("/api/plan", { rev: this.job.rev, effort }, l => {
            if (l.stage) work.stage = l.stage;
            if (l.film) work.film = l.film;
            if (l.plan) { good = true; if (this.working === work) this.working = null; this.takePlan(l, work.rev); }
            if (l.faults) { this.planFaults = l.faults; this.upToDate = false; if (this.working === work) this.working = null; this.refresh("plan"); }
            if (l.follows === false && this.plan) this.plan.follows = false;
            if (l.stage || l.film) this.refresh("work");
          }, work.stop.signal);
          back();
        } catch (e) {
          if (!work.stop.signal.aborted) trouble(e);
        }
        if (this.working === work) { this.working = null; this.refresh("work"); }
        done(good);
      }, wait);
    });
  },
  /** @param {any} l @param {number} rev */
  takePlan(l, rev) {
    this.plan = l.plan;
    this.plan.number = l.number;
    this.effort = l.effort;
    this.planFaults = [];
    this.clashes = [];
    this.upToDate = rev === this.job.rev;
    this.moved = false;
    this.pieces = new Map(l.plan.pieces.map((/** @type {any} */ p) => [p.n, p]));
    performance.mark("plan");
    this.refresh("plan");
  },
  /** The whole plan of the job as it stands, made if it is not there. */
  async fresh() {
    await this.queue;
    return this.upToDate && !this.moved ? true : this.replan();
  },
  /** @param {string} why @param {any} [more] */
  refresh(why, more) {
    for (const f of this.fields) if (f.isConnected) f.refresh(); else if (why !== "work") this.fields.delete(f);
    frame();
    this.room?.refresh?.(why, more);
  },
  /** Goes to a room, and to a place in it. @param {string} name @param {(string | number)[]} [at] */
  go(name, at) {
    const room = ROOMS.find(r => r[0] === name) || ROOMS[0];
    if (location.hash !== `#${room[0]}`) history.replaceState(null, "", `#${room[0]}`);
    if (this.roomName !== room[0]) {
      this.room?.leave?.();
      this.roomName = room[0];
      this.fields.clear();
      const main = by("room");
      main.replaceChildren(el("h2", { class: "out", text: room[1] }));
      this.room = room[2](this, main);
      frame();
    }
    if (at) this.show(at); else if (document.activeElement !== by("title")) by("room").focus({ preventScroll: true });
    document.title = `${room[1]} – ${this.doc.title || "frusta"}`;
  },
  /** Puts the eye and the keys on a place of the job. @param {(string | number)[]} at */
  show(at) {
    this.room?.show?.(at);
    for (let n = at.length; n > 0; n--) {
      const e = by(key(at.slice(0, n))) || document.querySelector(`[id^="${key(at.slice(0, n))}-"]:is(input,select,textarea,button)`);
      if (e) {
        for (let d = e.closest("details"); d; d = d.parentElement.closest("details")) d.open = true;
        e.focus();
        e.scrollIntoView({ block: "center" });
        return;
      }
    }
  },
  ask, lines, el,
};

/** @param {any} a @param {any} b */
const same = (a, b) => a.code === b.code && a.says === b.says && a.steps.join() === b.steps.join() && a.file === b.file;

/** The room in which a place of the job is looked after. @param {(string | number)[]} steps */
export function roomOf(steps) {
  const [a, , b] = steps;
  if (a === "cup" || a === "unit") return "cup";
  if (a === "motif" && (b === "poses" || b === "copies" || b === "turning")) return "wall";
  if (a === "accent") return "wall";
  if (a === "motif" || a === "decal" || a === "sheet" || a === "pick") return "art";
  if (a === "film") return "film";
  if (a === "finish") return "finish";
  return "kit";
}

// What went wrong, said until it is over.
const bars = new Map();
/** @param {string} name @param {string} words @param {[string, () => void][]} [ways] @param {boolean} [bad] */
function bar(name, words, ways = [], bad = false) {
  if (bars.get(name)?.words === words) return;
  bars.get(name)?.e.remove();
  const e = el("div", { class: "bar" + (bad ? " bad" : ""), role: "alert" }, el("p", { text: words }), ways.map(([t, f]) => el("button", { type: "button", text: t, onclick: f })));
  bars.set(name, { words, e });
  by("bars").append(e);
}
/** @param {string} name */
function unbar(name) { bars.get(name)?.e.remove(); bars.delete(name); }
function back() { unbar("gone"); unbar("key"); unbar("disk"); }
/** @param {any} e */
function trouble(e) {
  if (e instanceof Gone) {
    bar("gone", `The program is gone. The job is saved${app.savedAt ? ` as of ${app.savedAt}` : ""}; what you change now is not. Start it again in the job's folder: frusta open.`, [], true);
  } else if (e instanceof Refused) {
    if (e.status === 401) bar("key", "The program was started anew: open the link that it printed in the terminal; this window then goes on, too.", [], true);
    else if (e.said.kind === "outside") outside();
    else if (e.said.kind === "looks") bar("looks", "Another frusta has this job open: here it can only be looked at.", []);
    else if (e.said.kind === "disk") bar("disk", `Nothing was written, the old job stands: ${e.message}.`, [["Try again", () => { unbar("disk"); app.refresh("job"); }]], true);
    else if (e.said.kind === "behind") { bar("behind", "The job was changed in another window; this shows it as it is now. Your last change was not made.", [["All right", () => unbar("behind")]]); }
    else bar("refused", `That was not done: ${e.message}.`, [["All right", () => unbar("refused")]], true);
  } else {
    bar("defect", `This is a defect of the page: ${e?.message || e}. The job is saved.`, [["All right", () => unbar("defect")]], true);
    console.error(e);
  }
}
function outside() {
  const say = (/** @type {string} */ what) => async () => { unbar("outside"); await app.change("/api/outside", what); };
  bar("outside", "The job file was changed outside of this page.", [["Load it; mine is one step back", say("load")], ["Keep mine; put theirs beside it", say("keep")]]);
}

async function load() {
  const job = await ask("/api/state");
  app.take(job);
}
// Asked every two seconds while somebody looks: other windows, other programs, the program itself.
async function look() {
  if (document.visibilityState === "visible") {
    try {
      const r = await ask("/api/rev");
      const was = bars.has("gone") || bars.has("key");
      back();
      if (was) app.say("The program is back.");
      if (r.outside && !r.looks) outside(); else if (r.outside) await app.change("/api/outside", "load");
      if (!r.outside) unbar("outside");
      await app.queue;
      if (app.job && r.rev > app.job.rev) await load();
    } catch (e) { trouble(e); }
  }
  setTimeout(look, 2000);
}

/** What stands round every room. */
function frame() {
  if (!app.job) return;
  const found = app.found.filter(f => f.severity === "fault");
  const counts = ROOMS.map(([name]) => app.job.new ? 0 : found.filter(f => roomOf(f.steps) === name).length), now = `${app.roomName} ${counts}`;
  if (by("rooms").dataset.now !== now) by("rooms").replaceChildren(...ROOMS.map(([name, word], i) => {
    const n = counts[i];
    return el("a", { href: `#${name}`, "aria-current": name === app.roomName ? "page" : undefined }, word, n ? el("span", { class: "n", title: `${n} ${n === 1 ? "fault" : "faults"}`, text: n }) : null, n ? el("span", { class: "out", text: ` ${n === 1 ? "fault" : "faults"}` }) : null);
  }));
  by("rooms").dataset.now = now;
  const title = by("title");
  if (document.activeElement !== title) title.value = app.doc.title || "";
  title.placeholder = "Name of the job";
  for (const [id, word] of [["undo", "Undo"], ["redo", "Redo"]]) {
    const step = app.job[id];
    by(id).disabled = !step;
    by(id).title = step ? `${word}: ${step} (${id === "undo" ? "Ctrl+Z" : "Ctrl+Shift+Z"})` : `Nothing to ${id}`;
    by(id).setAttribute("aria-label", step ? `${word}: ${step}` : word);
  }
  for (const r of document.querySelectorAll("input[name=unit]")) /** @type {any} */ (r).checked = /** @type {any} */ (r).value === app.shows;
  const many = (/** @type {number} */ n, /** @type {string} */ one) => `${n} ${n === 1 ? one : one + "s"}`;
  const pieces = [...app.pieces.values()], spots = pieces.filter(p => p.kind === "spot").length;
  const decals = new Set(pieces.filter(p => p.kind === "layer").map(p => p.of)).size;
  const near = app.clashes.length;
  const parts = [many(pieces.filter(p => p.kind === "motif").length, "motif"), many(decals, "decal"), many(spots, "spot"), near ? `${near} too near` : "", found.length && !app.job.new ? many(found.length, "fault") : ""].filter(Boolean);
  const state = app.working ? `working: ${word(app.working.stage)}` : !app.plan ? "" : !app.upToDate ? "not up to date" : app.moved ? "spots as on the screen, not yet the kit’s" : "";
  by("status").textContent = app.plan ? parts.join(", ") + (state ? ` – ${state}` : "") : state || (app.job.new || !app.doc.cup ? "No cup yet" : found.length ? `${many(found.length, "fault")}: the wall is shown when they are mended` : "");
  by("saved").textContent = app.job.new ? "Nothing is saved yet" : `Saved in ${app.job.file}${app.savedAt ? `, ${app.savedAt}` : ""}`;
  document.body.classList.toggle("stale", !!app.plan && !app.upToDate);
}
/** @param {string} stage */
const word = stage => ({ begins: "reading", cup: "the cup", sheets: "printed sheets", decals: "lettering", motifs: "placing", accents: "spots", weed: "widths", film: "film", finish: "finishing", waits: "another run is writing" })[stage] || stage || "reading";

function start() {
  const title = by("title");
  title.addEventListener("change", () => app.edit("the job’s name", [{ set: { at: ["title"], to: title.value.trim() } }]));
  by("undo").addEventListener("click", () => app.change("/api/undo", {}));
  by("redo").addEventListener("click", () => app.change("/api/redo", {}));
  addEventListener("keydown", e => {
    const t = /** @type {any} */ (e.target);
    const typing = t.matches?.("input:not([type=radio], [type=checkbox]), textarea, select") && t.id !== "" && t.value !== t.defaultValue && !t.readOnly && document.activeElement === t && t.dataset.typed;
    if (!(e.ctrlKey || e.metaKey) || e.altKey || typing) return;
    if (e.key.toLowerCase() === "z") { e.preventDefault(); t.blur?.(); const what = e.shiftKey ? "redo" : "undo"; if (app.job[what]) { app.say(`${what === "undo" ? "Undone" : "Done again"}: ${app.job[what]}`); app.change(`/api/${what}`, {}); } }
    if (e.key.toLowerCase() === "y") { e.preventDefault(); if (app.job.redo) app.change("/api/redo", {}); }
  });
  for (const r of document.querySelectorAll("input[name=unit]")) r.addEventListener("change", () => {
    app.shows = /** @type {any} */ (r).value;
    try { localStorage.setItem("frusta-unit", app.shows); } catch { /* Then it is forgotten. */ }
    app.refresh("unit");
  });
  addEventListener("hashchange", () => app.go(location.hash.slice(1)));
}

async function main() {
  start();
  try {
    const job = await ask("/api/state");
    let kept = null;
    try { kept = localStorage.getItem("frusta-unit"); } catch { /* Not kept. */ }
    app.job = job;
    app.shows = kept === "mm" || kept === "in" ? kept : job.said.unit;
    const first = location.hash.slice(1) || (job.new || !job.said.doc?.cup ? "cup" : "wall");
    app.go(first);
    if (job.looks) trouble(new Refused(423, { kind: "looks" }));
    frame();
    performance.mark("shown");
    app.replan();
  } catch (e) { trouble(e); }
  setTimeout(look, 2000);
}
// For tests, and for who looks.
/** @type {any} */ (window).frusta = app;
export { sentence };
main();
