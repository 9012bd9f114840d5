// @ts-check
// Art: drawings with their size, film and how many; names and lettering with their layers; what of a drawing is not cut.
import { el, field, fillIn, sentence } from "/form.js";
import { put } from "/lengths.js";

/** The films of the job. @param {any} app @returns {[string, string][]} */
export const films = app => (app.doc.film || []).map((/** @type {any} */ f) => [f.name, f.name]);
/** Colours of our own, told apart by all eyes. */
const COLOURS = ["#7c3bb6", "#c48309", "#267b69", "#0a005e", "#475300", "#291915", "#948ac1"];
/** A film to begin with, where the job has none. @param {any} app @param {number} [n] */
export function newFilm(app, n = (app.doc.film || []).length) {
  const taken = (app.doc.film || []).map((/** @type {any} */ f) => f.name);
  let k = n + 1;
  while (taken.includes(`film-${k}`)) k++;
  return { name: `film-${k}`, colour: COLOURS[(k - 1) % COLOURS.length], sheet: ["300 mm", "200 mm"] };
}

/** @param {any} app @param {HTMLElement} room */
export function artRoom(app, room) {
  const drop = el("div", { class: "drop" }), said = el("div", { role: "status" }), drawings = el("div", { class: "cards" }), letters = el("div", { class: "cards" });
  const file = el("input", { type: "file", id: "add-file", accept: ".svg,image/svg+xml", multiple: true });
  const name = el("input", { id: "add-name", autocomplete: "off", placeholder: "a name, or some words" });
  drop.append(el("div", { class: "fields" }, el("div", { class: "field" }, el("label", { for: "add-file", text: "Add drawings (SVG files), or drop them here" }), file),
    el("div", { class: "field" }, el("label", { for: "add-name", text: "Add a name or lettering" }), el("div", { class: "box" }, name, el("button", { type: "button", id: "add-name-go", text: "Add it", onclick: addName })))), said);
  room.append(drop, el("h3", { text: "Drawings" }), drawings, el("h3", { text: "Names and lettering" }), letters);
  name.addEventListener("keydown", (/** @type {KeyboardEvent} */ e) => { if (e.key === "Enter") addName(); });
  file.addEventListener("change", async () => { await add([...file.files]); file.value = ""; });
  drop.addEventListener("dragover", (/** @type {DragEvent} */ e) => { e.preventDefault(); drop.classList.add("over"); });
  drop.addEventListener("dragleave", () => drop.classList.remove("over"));
  drop.addEventListener("drop", (/** @type {any} */ e) => { e.preventDefault(); drop.classList.remove("over"); add([...e.dataTransfer.files]); });

  /** @param {File[]} files */
  async function add(files) {
    for (const f of files) {
      fillIn(said, el("p", { text: `Reading ${f.name} …` }));
      if (f.size > 8 << 20) { fillIn(said, el("p", { class: "fault", text: `${f.name} is larger than 8 MiB; make it simpler.` })); continue; }
      try {
        const r = await app.ask("/api/art", { name: f.name, text: await f.text() });
        const edits = [];
        let film = app.doc.film?.[0]?.name;
        if (!film) { const first = newFilm(app); film = first.name; edits.push({ add: { at: ["film"], to: first } }); }
        // As large as a third of the free wall, and upright or lying as it is drawn.
        const z = app.job.said.cup?.zones?.[0], free = z ? z.free[1] - z.free[0] : 90, size = Math.round(Math.max(12, Math.min(45, free / 3)));
        const side = r.size[0] >= r.size[1] ? "width" : "height";
        edits.push({ add: { at: ["motif"], to: { art: r.path, [side]: put(size, app.job.new ? app.shows : app.unit, 0), film, copies: 3 } } });
        if (await app.edit(`drawing ${f.name}`, edits)) {
          fillIn(said, el("p", { class: "tick", text: `${f.name} was added: three copies, spread over the free wall.` }), ...r.found.map((/** @type {any} */ d) => el("p", { class: "warn", text: sentence(d) })));
          app.say(`${f.name} was added.`);
        }
      } catch (e) {
        const x = /** @type {any} */ (e);
        fillIn(said, ...(x.said?.found?.length ? x.said.found.map((/** @type {any} */ d) => el("p", { class: d.severity === "fault" ? "fault" : "warn", text: `${f.name}: ${sentence(d)}` })) : [el("p", { class: "fault", text: `${f.name} was not added: ${x.message}.` })]));
      }
    }
  }
  async function addName() {
    const text = name.value.trim();
    if (!text) { name.focus(); return; }
    const edits = [], have = (app.doc.film || []).map((/** @type {any} */ f) => f.name);
    for (let n = have.length; n < 2; n++) { const f = newFilm(app, n); have.push(f.name); edits.push({ add: { at: ["film"], to: f } }); }
    edits.push({ add: { at: ["decal"], to: { text, font: "Kaushan Script", width: put(60, app.job.new ? app.shows : app.unit, 0), azimuth: 0, up: "centred", lies: "upright", mend: true, layers: [{ film: have[1], offset: "2 mm" }, { film: have[0] }] } } });
    if (await app.edit(`lettering “${text}”`, edits)) { name.value = ""; app.say(`“${text}” was added on the front, in two layers.`); }
  }

  /** @param {any} m @param {number} i */
  function drawing(m, i) {
    const at = (/** @type {string} */ k) => ["motif", i, k], side = m.width !== undefined ? "width" : "height", label = m.art ? String(m.art).replace(/^.*\//, "").replace(/\.svg$/, "") : `${m.from}, number ${m.number}`;
    const pinned = Array.isArray(m.poses);
    return el("section", { class: "card", "aria-label": label }, el("div", { class: "fields" }, m.art ? el("img", { class: "thumb", src: `/api/drawing/${i}?${encodeURIComponent(m.art)}`, alt: `The drawing ${label}` }) : null, el("h3", { text: label })),
      el("div", { class: "fields" },
        m.width !== undefined || m.height !== undefined || m.art ? field(app, { at: at(side), label: side === "width" ? "Wide" : "High", kind: "length", what: `size of ${label}` }) : null,
        field(app, { at: at("film"), label: "Film", kind: "choice", choices: films(app), what: `film of ${label}` }),
        pinned ? el("p", { class: "quiet", text: `Pinned: ${m.poses.length} ${m.poses.length === 1 ? "place" : "places"}` }) : field(app, { at: at("copies"), label: "How many, spread", kind: "number", placeholder: "1", what: `copies of ${label}`, also: [at("poses")] }),
        field(app, { at: at("clearance"), label: "Free wall round it", kind: "length", placeholder: "2", what: `clearance of ${label}` }),
        field(app, { at: at("border"), label: "Border of film", kind: "length", placeholder: "0", what: `border of ${label}` }),
        field(app, { at: at("mend"), label: "Thicken what is too thin to weed", kind: "tick", what: `mending of ${label}` })),
      notes("motif", i, ["width", "height", "film", "copies", "clearance", "border", "mend"]),
      el("div", { class: "ways" }, m.width !== undefined || m.height !== undefined ? el("button", { type: "button", text: side === "width" ? "Set its height instead" : "Set its width instead", onclick: () => turnSide(m, i, side) }) : null,
        el("button", { type: "button", text: "Take away", "aria-label": `Take away ${label}`, onclick: () => app.edit(`${label} taken away`, [{ remove: { at: ["motif", i] } }]) })));
  }
  /** @param {any} m @param {number} i @param {string} side */
  function turnSide(m, i, side) {
    const p = [...app.pieces.values()].find(p => p.kind === "motif" && p.of === i), other = side === "width" ? "height" : "width";
    const mm = p ? p.size[other === "width" ? 0 : 1] : 30;
    app.edit("which side is set", [{ remove: { at: ["motif", i, side] } }, { set: { at: ["motif", i, other], to: put(mm, app.unit, 1) } }]);
  }
  /** What was found about a thing that has no field of its own here. @param {string} table @param {number} i @param {string[]} own */
  function notes(table, i, own) {
    const box = el("div", {});
    box.refresh = () => {
      const all = app.found.filter((/** @type {any} */ f) => f.steps[0] === table && f.steps[1] === i && !(f.severity === "fault" && own.includes(f.steps[2]) && f.steps.length === 3));
      fillIn(box, ...all.slice(0, 6).map((/** @type {any} */ f) => el("p", { class: f.severity === "fault" ? "fault" : f.severity === "warning" ? "warn" : "note", text: sentence(f) })));
    };
    app.fields.add(box);
    box.refresh();
    return box;
  }
  /** @param {any} d @param {number} i */
  function lettering(d, i) {
    const at = (/** @type {any[]} */ ...k) => ["decal", i, ...k], label = d.text ? [].concat(d.text).join(" ") : String(d.art || "decal");
    const rows = (d.layers || []).map((/** @type {any} */ l, /** @type {number} */ n) => {
      const top = n === d.layers.length - 1;
      return el("fieldset", {}, el("legend", { text: top ? "On top: the letters" : n === 0 ? "Lowest layer" : `Layer ${n + 1}` }), el("div", { class: "fields" },
        l.films || l.colours ? el("p", { class: "quiet", text: `Films in turn: ${(l.films || Object.values(l.colours)).join(", ")}` }) : field(app, { at: at("layers", n, "film"), label: "Film", kind: "choice", choices: films(app), what: `film of a layer of ${label}` }),
        field(app, { at: at("layers", n, "offset"), label: top ? "Fatter by" : "Reaches out by", kind: "length", placeholder: top ? "0" : "2", what: `offset of a layer of ${label}` }),
        !top && d.layers.length > 2 ? el("button", { type: "button", text: "Take away", "aria-label": `Take away layer ${n + 1}`, onclick: () => app.edit("a layer taken away", [{ remove: { at: at("layers", n) } }]) }) : null));
    });
    return el("section", { class: "card", "aria-label": label }, el("h3", { text: label }), el("div", { class: "fields" },
      d.text !== undefined ? field(app, { at: at("text"), label: "Words", what: `words “${label}”`, wide: true, read: () => [].concat(app.get(at("text")) ?? "").join(" / "), edits: (v, t) => t ? [{ set: { at: at("text"), to: t.includes("/") ? t.split("/").map(s => s.trim()).filter(Boolean) : t } }] : [{ remove: { at: at("text") } }], hint: "A stroke / parts lines." }) : null,
      d.text !== undefined ? field(app, { at: at("font"), label: "Font", what: `font of ${label}`, hint: "Kaushan Script, Source Sans Pro Bold, Fredoka One; or a family of this machine" }) : null,
      d["cap-height"] === undefined && d.fits === undefined ? field(app, { at: at("width"), label: "Wide", kind: "length", what: `width of ${label}` }) : null,
      field(app, { at: at("azimuth"), label: "Round from the front", kind: "number", placeholder: "0", suffix: "degrees", what: `place of ${label}` }),
      field(app, { at: at("up"), label: "Up the wall", what: `height of ${label}`, hint: "centred, or a length" , edits: (v, t) => t ? [{ set: { at: at("up"), to: /^\d+(\.\d+)?$/.test(t) && app.unit === app.shows ? Number(t) : /^[\d.,/ ]+$/.test(t) && app.unit !== app.shows ? `${t} ${app.shows}` : t } }] : [{ remove: { at: at("up") } }] }),
      d.text !== undefined ? field(app, { at: at("lies"), label: "Lies", kind: "choice", usual: "rigid", choices: [["upright", "each letter upright"], ["bent", "bent with the wall"], ["rigid", "in one flat piece"]], what: `lie of ${label}` }) : null,
      field(app, { at: at("mend"), label: "Thicken what is too thin to weed", kind: "tick", what: `mending of ${label}` })),
      rows, notes("decal", i, ["text", "font", "width", "azimuth", "up", "lies", "mend"]),
      el("div", { class: "ways" }, el("button", { type: "button", text: "Add a layer under it", onclick: () => app.edit("a layer", [{ set: { at: at("layers"), to: [{ film: films(app)[0]?.[0], offset: "2 mm" }, ...d.layers] } }]) }),
        el("button", { type: "button", text: "Take away", "aria-label": `Take away ${label}`, onclick: () => app.edit(`${label} taken away`, [{ remove: { at: ["decal", i] } }]) })));
  }

  let was = "";
  const made = { refresh(/** @type {string} */ why) {
    if (why === "work") return;
    // Built anew only where there is another thing, so that no field loses what is being typed.
    const now = JSON.stringify([(app.doc.motif || []).map((/** @type {any} */ m) => [m.art, m.from, m.number, m.width !== undefined, m.height !== undefined, m.poses?.length ?? -1]),
      (app.doc.decal || []).map((/** @type {any} */ d) => [d.text, d.art, (d.layers || []).map((/** @type {any} */ l) => [l.films, l.colours])]), films(app)]);
    if (now === was) return;
    was = now;
    const focus = document.activeElement?.id;
    fillIn(drawings, ...(app.doc.motif || []).map(drawing));
    fillIn(letters, ...(app.doc.decal || []).map(lettering));
    if (!app.doc.motif?.length) drawings.append(el("p", { class: "quiet", text: "No drawings yet." }));
    if (!app.doc.decal?.length) letters.append(el("p", { class: "quiet", text: "No lettering yet." }));
    if (focus) document.getElementById(focus)?.focus();
  } };
  made.refresh("job");
  return made;
}
