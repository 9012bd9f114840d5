// @ts-check
// Wall: the wall rolled out, rim on top. A piece that is dragged moves on the cup, round and up, so that it keeps upright there and
// turns on the flat drawing. It moves here each frame; the program says what is too near; spots give way on release.
import { el, field, fillIn, sentence, svg, swatch } from "/form.js";
import { put, said } from "/lengths.js";
import { plane, within, wrapped } from "/plane.js";
import { films, newFilm } from "/art.js";
import { turning } from "/turn.js";

const FAMILIES = ["pebble", "blob", "petal", "bean", "seed", "drop", "crescent", "ring", "star-flower", "dot"];
const GRIP = 14;

/** @param {any} app @param {HTMLElement} room */
export function wallRoom(app, room) {
  const list = el("div", { class: "pieces", role: "group", "aria-label": "Pieces on the wall" }), about = el("section", { class: "card", "aria-label": "The chosen piece" }), fill = el("section", { class: "card", "aria-label": "Spots" });
  const old = el("p", { class: "old", text: "not up to date" }), stage = el("div", { class: "stage" }), paper = svg("svg", { id: "wall", class: "paper", role: "application", tabindex: 0, "aria-label": "The wall rolled out", "aria-describedby": "wall-keys", preserveAspectRatio: "xMidYMid meet" });
  const keys = el("details", { id: "wall-keys" }, el("summary", { text: "Keys" }), el("p", {}, "With the wall in focus: ", kbd("Tab"), " leaves it, ", kbd("N"), " and ", kbd("B"), " choose the next piece and the one before; ", kbd("←"), kbd("→"), kbd("↑"), kbd("↓"), " move it by 1 mm (with Shift 10, with Alt a tenth); ", kbd("["), " and ", kbd("]"), " turn it by 1° (with Shift 15); ", kbd("+"), " and ", kbd("−"), " size it by 1 mm; ", kbd("P"), " pins or spreads; ", kbd("PgUp"), " and ", kbd("PgDn"), " come closer and go farther; ", kbd("Enter"), " picks up and puts down; ", kbd("Delete"), " takes the copy away; ", kbd("Esc"), " lets go."));
  const note = el("div", { role: "status" }), cupPlace = el("div", { id: "cup-place" });
  stage.append(paper, old);
  room.append(el("div", { class: "wallroom" }, el("div", { class: "list" }, el("h3", { text: "Pieces" }), list, fill), el("div", {}, stage, note, about, keys), el("section", { class: "card", "aria-label": "The cup" }, cupPlace)));
  let close = 1, middle = /** @type {number[] | null} */ (null), whole = /** @type {number[] | null} */ (null), panned = /** @type {any} */ (null);
  const nearer = el("button", { type: "button", id: "wall-closer", text: "Wall closer", onclick: () => zoom(2) }), farther = el("button", { type: "button", id: "wall-farther", text: "Wall farther", disabled: true, onclick: () => zoom(.5) });
  stage.append(el("div", { class: "ways" }, nearer, farther));
  const cup = turning(app, cupPlace);
  /** @type {{ plane: any, dy: number, g: any }[]} */ let zones = [];
  /** @type {Map<number, any>} */ const shapes = new Map();
  /** @type {Map<number, any[]>} */ const ghosts = new Map();
  let looks = new Map(), nudged = /** @type {any} */ (null);
  let marks = /** @type {any} */ (null), grips = /** @type {any} */ (null), chosen = /** @type {any} */ (null), held = /** @type {any} */ (null), lifted = false, scale = 1, nearNow = /** @type {any[]} */ ([]);
  /** @param {string} t */ function kbd(t) { return el("kbd", { text: t }); }

  const motifs = () => [...app.pieces.values()].filter(p => p.kind === "motif").sort((a, b) => a.of - b.of || a.part - b.part);
  const decals = () => [...new Map([...app.pieces.values()].filter(p => p.kind === "layer").map(p => [p.of, p])).values()].sort((a, b) => a.of - b.of);
  const name = (/** @type {any} */ p) => p.kind === "layer" ? [].concat(app.doc.decal?.[p.of]?.text ?? p.name).join(" ") : p.name;
  const pinned = (/** @type {any} */ p) => p.kind === "layer" || !!app.plan?.pinned[p.of];
  const copies = (/** @type {any} */ p) => motifs().filter(o => o.of === p.of);
  /** The pieces that move with one: all layers of a decal. @param {any} p */
  const group = p => p.kind === "layer" ? [...app.pieces.values()].filter(o => o.kind === "layer" && o.of === p.of) : [p];
  const same = (/** @type {any} */ a, /** @type {any} */ b) => a && b && a.kind === b.kind && a.of === b.of && (a.kind === "layer" || a.part === b.part);

  function lay() {
    fillIn(paper);
    shapes.clear();
    ghosts.clear();
    looks = new Map();
    zones = [];
    if (!app.plan) { paper.append(svg("text", { x: 10, y: 20, "font-size": 8, text: "" })); return; }
    let top = 0, box = [1e9, 1e9, -1e9, -1e9];
    const all = app.plan.zones.map((/** @type {any} */ z) => plane(z));
    // The highest zone stands on top.
    for (let i = all.length - 1; i >= 0; i--) {
      const [x, y, w, h] = all[i].box(), dy = top - y, g = svg("g", { transform: `translate(0 ${dy.toFixed(3)})` });
      zones[i] = { plane: all[i], dy, g };
      box = [Math.min(box[0], x), Math.min(box[1], top), Math.max(box[2], x + w), Math.max(box[3], top + h)];
      top += h + 12;
      paper.append(g);
    }
    // What crosses the seam reaches out beyond the wall.
    const seam = (/** @type {any} */ p) => { const z = app.plan.zones[p.zone], a = within(p.at[0], z.seam) - z.seam; return Math.min(-a, a + 360) * Math.PI / 180 * all[p.zone].radius(p.at[1]); };
    const aside = Math.max(0, ...[...app.pieces.values()].map(p => Math.hypot(p.size[0], p.size[1]) / 2 - seam(p)));
    const view = [box[0] - 4 - aside, box[1] - 8, box[2] - box[0] + 8 + 2 * aside, box[3] - box[1] + 14];
    whole = view;
    look();
    for (const { plane: p, g } of zones) {
      const z = p.zone, from = z.seam - 360, low = z.low, high = z.low + z.slant;
      g.append(svg("path", { d: p.band(from, z.seam, low, high), fill: "#fff", stroke: "#291915", "stroke-width": .6 }));
      for (const [a, b] of [[low, z.free[0]], [z.free[1], high]]) if (b > a) g.append(svg("path", { d: p.band(from, z.seam, a, b), fill: "#b9b1aa", opacity: .35 }));
      for (const a of [-90, 0, 90, 180, 270]) if (a > from && a < z.seam) g.append(svg("path", { d: p.line([[a, low], [a, high]]), stroke: a === 0 ? "#0a005e" : "#b9b1aa", "stroke-width": a === 0 ? .6 : .4, "stroke-dasharray": "3 2", fill: "none" }));
      for (const [l, r, a, b] of z.handles) for (const t of [-360, 0, 360]) if (r + t > from && l + t < z.seam) g.append(svg("path", { d: p.band(l + t, r + t, a, b), fill: "#b9b1aa", opacity: .6 }));
      const words = (/** @type {number} */ a, /** @type {number} */ u, /** @type {string} */ t) => { const [x, y] = p.develop(a, u); g.append(svg("text", { x, y: -y, "font-size": 5, "text-anchor": "middle", fill: "#55483f", "aria-hidden": "true", text: t })); };
      // What lies between two zones is an edge; only the ends have names.
      if (z === app.plan.zones[app.plan.zones.length - 1]) words(0, high + 2, "rim, front");
      if (z === app.plan.zones[0]) words(0, low - 6, "base");
      words(from, high + 2, "seam");
      words(z.seam, high + 2, "seam");
      g.append(svg("g", { class: "spots" }), svg("g", { class: "bodies" }));
    }
    marks = svg("g", { class: "marks" });
    grips = svg("g", { class: "grips" });
    const order = [...app.pieces.values()].sort((a, b) => rank(a) - rank(b) || a.n - b.n);
    for (const p of order) draw(p);
    paper.append(marks, grips);
    measure();
    mark();
  }
  const rank = (/** @type {any} */ p) => p.kind === "layer" ? 1 + p.part : 0;
  /** @param {any} p */
  function draw(p) {
    const z = zones[p.zone];
    if (!z) return;
    const film = app.plan.films[p.film], make = () => svg("path", { d: p.d, fill: film?.colour || "#857a70", "fill-rule": "evenodd", class: p.kind === "spot" ? "spot" : "piece", "data-n": p.n });
    const shape = make();
    if (p.kind !== "spot") shape.append(svg("title", { text: `${name(p)}, film ${film?.letter} ${film?.name}` }));
    shapes.set(p.n, shape);
    ghosts.set(p.n, []);
    z.g.querySelector(p.kind === "spot" ? ".spots" : ".bodies").append(shape);
    place(p);
  }
  /** Puts a piece where it is; what crosses the seam is shown on both sides. @param {any} p @param {number[]} [at] */
  function place(p, at = p.at) {
    const shape = shapes.get(p.n), z = zones[p.zone];
    if (!shape || !z) return;
    const a = within(at[0], z.plane.zone.seam), r = z.plane.radius(at[1]), half = Math.hypot(p.size[0], p.size[1]) / 2 / Math.max(r, 1) * 180 / Math.PI;
    shape.setAttribute("transform", z.plane.matrix([a, at[1], at[2]]));
    const beyond = [];
    if (a + half > z.plane.zone.seam) beyond.push(a - 360);
    if (a - half < z.plane.zone.seam - 360) beyond.push(a + 360);
    const have = ghosts.get(p.n) || [];
    while (have.length > beyond.length) have.pop().remove();
    while (have.length < beyond.length) { const g = shape.cloneNode(true); g.classList.remove("chosen"); shape.after(g); have.push(g); }
    beyond.forEach((b, i) => have[i].setAttribute("transform", z.plane.matrix([b, at[1], at[2]])));
    ghosts.set(p.n, have);
  }
  /** @param {number} n */
  function erase(n) {
    shapes.get(n)?.remove();
    for (const g of ghosts.get(n) || []) g.remove();
    shapes.delete(n);
    ghosts.delete(n);
  }
  function measure() {
    const m = paper.getScreenCTM();
    scale = m ? Math.hypot(m.a, m.b) || 1 : 1;
  }
  /** What of the wall is seen: all of it, or closer, about a middle. */
  function look() {
    if (!whole) return;
    const [x, y, w, h] = whole, half = [w / close / 2, h / close / 2];
    middle = middle || [x + w / 2, y + h / 2];
    middle = [Math.min(x + w - half[0], Math.max(x + half[0], middle[0])), Math.min(y + h - half[1], Math.max(y + half[1], middle[1]))];
    paper.setAttribute("viewBox", [middle[0] - half[0], middle[1] - half[1], w / close, h / close].map(v => v.toFixed(2)).join(" "));
    nearer.disabled = close >= 8;
    farther.disabled = close <= 1;
    measure();
    grip();
  }
  /** @param {number} by */
  function zoom(by) {
    close = Math.min(8, Math.max(1, close * by));
    if (chosen && zones[chosen.zone]) { const z = zones[chosen.zone], [x, y] = z.plane.develop(within(chosen.at[0], z.plane.zone.seam), chosen.at[1]); middle = [x, -y + z.dy]; }
    look();
    app.say(close > 1 ? `The wall is ${close} times as large.` : "The whole wall is shown.");
  }
  /** Shows which piece is chosen, and what is too near. */
  function mark() {
    const near = new Set(app.clashes.map((/** @type {any} */ c) => c[0]));
    for (const t of nearNow) if (t.motif) { const o = motifs().find(p => p.of === t.motif[0] && p.part === t.motif[1]); if (o) near.add(o.n); } else if (t.decal !== undefined) for (const o of app.pieces.values()) if (o.kind === "layer" && o.of === t.decal) near.add(o.n);
    if (held && nearNow.length) near.add(held.p.n);
    // Only what has another look now: hundreds of pieces stay as they are, each frame of a drag.
    const look = new Map();
    for (const n of near) look.set(n, "near");
    if (chosen) for (const o of group(chosen)) if (!near.has(o.n)) look.set(o.n, "chosen");
    for (const n of new Set([...looks.keys(), ...look.keys()])) {
      for (const e of [shapes.get(n), ...(ghosts.get(n) || [])]) if (e) {
        e.classList.toggle("near", look.get(n) === "near");
        e.classList.toggle("chosen", look.get(n) === "chosen");
      }
    }
    looks = look;
    if (!held) grip();
  }
  function grip() {
    if (!grips) return;
    fillIn(grips);
    if (!chosen || !app.plan) return;
    const z = zones[chosen.zone], at = held?.at || nudged || chosen.at;
    if (!z) return;
    const a = within(at[0], z.plane.zone.seam), [x, y] = z.plane.develop(a, at[1]), k = (z.plane.zone.upper - z.plane.zone.lower) / 2 / Math.PI / z.plane.zone.slant;
    const turn = (at[2] - k * a) * Math.PI / 180, r = GRIP / scale, h = chosen.size[1] / 2 + r * 1.6, w = chosen.size[0] / 2 + r * 1.2;
    const on = (/** @type {number} */ u, /** @type {number} */ v) => [x + u * Math.cos(turn) - v * Math.sin(turn), -(y + u * Math.sin(turn) + v * Math.cos(turn)) + z.dy];
    const one = (/** @type {number[]} */ p, /** @type {string} */ what, /** @type {string} */ sign, /** @type {string} */ title) => grips.append(svg("g", { "data-grip": what }, svg("circle", { cx: p[0], cy: p[1], r, class: "grip" }), svg("text", { x: p[0], y: p[1] + r * .45, "font-size": r * 1.3, "text-anchor": "middle", "pointer-events": "none", "aria-hidden": "true", fill: "#0a005e", text: sign }), svg("title", { text: title })));
    if (chosen.kind === "motif") one(on(0, h), "turn", "↻", "Turn it");
    one(on(w, -chosen.size[1] / 2), "size", "⤢", "Size it");
  }

  /** @param {any} p @param {boolean} [focus] */
  function choose(p, focus) {
    chosen = p;
    app.chosen = p;
    lifted = false;
    nearNow = [];
    mark();
    tellAbout();
    for (const b of list.querySelectorAll("button")) b.setAttribute("aria-pressed", String(!!p && Number(b.dataset.n) === firstOf(p)));
    if (p) { app.say(`${name(p)} chosen: ${where(p.at, p)}.`); if (focus) paper.focus(); }
  }
  const firstOf = (/** @type {any} */ p) => p.kind === "layer" ? decals().find(d => d.of === p.of)?.n : p.n;
  /** @param {number[]} at @param {any} p */
  const where = (at, p) => {
    const z = zones[p.zone]?.plane, mm = z ? Math.abs(at[0]) * Math.PI / 180 * z.radius(at[1]) : 0;
    return `${said(mm, app.shows)} ${Math.abs(at[0]) < .05 ? "" : at[0] > 0 ? "right " : "left "}of the front, ${said(at[1], app.shows)} up${Math.abs(at[2]) > .05 ? `, turned ${at[2].toFixed(1)}°` : ""}`;
  };

  function tellList() {
    const focus = /** @type {any} */ (document.activeElement)?.closest?.(".pieces") ? /** @type {any} */ (document.activeElement).dataset.n : null;
    const near = new Set(app.clashes.map((/** @type {any} */ c) => c[0]));
    fillIn(list, ...[...decals(), ...motifs()].map(p => {
      const film = app.plan?.films[p.film], n = copies(p).length;
      return el("button", { type: "button", "data-n": p.n, "aria-pressed": String(!!chosen && same(p, chosen)), onclick: () => choose(p, true) }, swatch(film?.colour || "#ffffff", film?.letter || ""), el("span", { class: "w" }, el("span", { class: "out", text: `film ${film?.letter || ""}, ` }), `${name(p)}${p.kind === "motif" && n > 1 ? ` ${p.part + 1}` : ""}`), el("span", { class: "k", text: near.has(p.n) ? "too near" : pinned(p) ? "pinned" : "spread" }));
    }));
    if (focus) /** @type {any} */ (list.querySelector(`[data-n="${focus}"]`))?.focus();
    if (!list.children.length) list.append(el("p", { class: "quiet", text: "Nothing yet: add drawings and lettering under Art." }));
  }
  let aboutOf = "";
  function tellAbout() {
    const p = chosen, now = p ? JSON.stringify([p.kind, p.of, p.part, pinned(p), copies(p).length, app.shows]) : "";
    if (now === aboutOf && p) { about.querySelector(".where").textContent = where(held?.at || p.at, p); return; }
    aboutOf = now;
    fillIn(about);
    if (!p) { about.append(el("p", { class: "quiet", text: "Choose a piece on the wall or in the list to move, turn or size it." })); return; }
    const m = app.doc[p.kind === "layer" ? "decal" : "motif"]?.[p.of] || {}, side = m.width !== undefined ? "width" : m.height !== undefined ? "height" : "";
    about.append(el("h3", { text: name(p) }), el("p", { class: "where", text: where(p.at, p) }), el("div", { class: "fields" },
      number("Round from the front", "degrees", () => wrapped(chosen.at[0]).toFixed(1), v => moveTo([v, chosen.at[1], chosen.at[2]])),
      number("Up the wall", app.shows, () => (app.shows === "in" ? chosen.at[1] / 25.4 : chosen.at[1]).toFixed(app.shows === "in" ? 3 : 1), v => moveTo([chosen.at[0], app.shows === "in" ? v * 25.4 : v, chosen.at[2]])),
      p.kind === "motif" ? number("Turn", "degrees", () => chosen.at[2].toFixed(1), v => moveTo([chosen.at[0], chosen.at[1], v])) : null,
      side ? field(app, { at: [p.kind === "layer" ? "decal" : "motif", p.of, side], label: side === "width" ? "Wide" : "High", kind: "length", what: `size of ${name(p)}` }) : null),
      el("div", { class: "ways" }, el("button", { type: "button", id: "pick-up", text: "Pick up", onclick: () => pickUp() }),
        p.kind === "motif" ? el("button", { type: "button", id: "pin", text: pinned(p) ? `Spread ${copies(p).length > 1 ? `all ${copies(p).length}` : "it"}` : `Pin ${copies(p).length > 1 ? `all ${copies(p).length}` : "it"} here`, onclick: pin }) : null,
        p.kind === "motif" ? el("button", { type: "button", text: "One more", onclick: more }) : null,
        p.kind === "motif" ? el("button", { type: "button", text: "Take this copy away", onclick: less }) : null));
  }
  /** @param {string} label @param {string} unit @param {() => string} read @param {(v: number) => any} write */
  function number(label, unit, read, write) {
    const id = "at-" + label.replace(/\W/g, "-"), input = el("input", { id, inputmode: "decimal", autocomplete: "off", value: read() }), x = el("p", { class: "fault", hidden: true, id: id + "-x" });
    input.setAttribute("aria-describedby", id + "-x");
    const go = () => { const v = Number(input.value.trim().replace(",", ".")); x.hidden = Number.isFinite(v) && input.value.trim() !== ""; x.textContent = x.hidden ? "" : `“${input.value}” is no number`; if (x.hidden && input.value !== read()) write(v); };
    input.addEventListener("change", go);
    const e = el("div", { class: "field" }, el("label", { for: id, text: label }), el("div", { class: "box" }, input, el("span", { class: "quiet", text: unit })), x);
    e.refresh = () => { if (chosen && document.activeElement !== input) input.value = read(); };
    app.fields.add(e);
    return e;
  }
  function tellFill() {
    const all = app.doc.accent || [], state = app.plan ? el("p", { class: "quiet" }) : null;
    if (state) {
      const spots = [...app.pieces.values()].filter(p => p.kind === "spot").length;
      state.textContent = app.moved ? `${spots} spots as they gave way on this screen. A kit lays all spots, and what is spread, anew from the job.` : `${spots} spots, as a kit has them.`;
    }
    const again = app.moved ? el("button", { type: "button", id: "anew", text: "Show them as the kit lays them", onclick: () => app.replan() }) : null;
    const now = JSON.stringify([all.map((/** @type {any} */ a) => [!!a.families, !!a.art, Array.isArray(a.films)]), films(app)]);
    if (fill.dataset.of !== now) {
      fill.dataset.of = now;
      fillIn(fill, el("h3", { text: "Spots between the pieces" }), el("div", { class: "fillstate" }), ...all.map((/** @type {any} */ a, /** @type {number} */ i) => {
        const at = (/** @type {string} */ k) => ["accent", i, k];
        return el("fieldset", {}, el("legend", { text: all.length > 1 ? `Fill ${i + 1}` : "Fill" }), el("div", { class: "fields" },
          a.families || a.art ? el("p", { class: "quiet", text: `Shapes: ${[].concat(a.families || a.art).join(", ")}` }) : field(app, { at: at("family"), label: "Shape", kind: "choice", choices: FAMILIES.map(f => [f, f]), what: "shape of spots" }),
          field(app, { at: at("smallest"), label: "Smallest", kind: "length", what: "smallest spot" }), field(app, { at: at("largest"), label: "Largest", kind: "length", what: "largest spot" }), field(app, { at: at("gap"), label: "Gap between", kind: "length", what: "gap between spots" }),
          a.films ? el("p", { class: "quiet", text: `Films: ${Object.entries(a.films).map(([f, n]) => `${n} ${f}`).join(", ")}` }) : field(app, { at: at("film"), label: "Film", kind: "choice", choices: films(app), what: "film of spots" })),
          el("button", { type: "button", text: "No spots", onclick: () => app.edit("spots taken away", [{ remove: { at: ["accent", i] } }]) }));
      }), all.length ? null : el("button", { type: "button", class: "main", id: "fill", text: "Fill the gaps with spots", onclick: addFill }));
    }
    fillIn(fill.querySelector(".fillstate"), ...[all.length ? state : null, again].filter(Boolean));
  }
  function addFill() {
    const edits = [];
    let film = app.doc.film?.[app.doc.film.length - 1]?.name;
    if (!film) { const f = newFilm(app); film = f.name; edits.push({ add: { at: ["film"], to: f } }); }
    app.edit("spots", [...edits, { add: { at: ["accent"], to: { family: "pebble", smallest: "4 mm", largest: "7 mm", gap: "1.5 mm", film } } }]);
  }

  /** The edits that put copies of a motif where they stand, and one of them elsewhere. @param {any} p @param {number[]} to */
  function pinEdits(p, to) {
    const pose = (/** @type {number[]} */ at, /** @type {boolean} */ fine) => ({ azimuth: Number(wrapped(at[0]).toFixed(fine ? 3 : 2)), up: put(at[1], app.unit, fine ? 3 : 2), ...(Math.abs(at[2]) > .005 ? { turn: Number(at[2].toFixed(2)) } : {}) });
    const i = p.of;
    if (pinned(p)) {
      const had = app.get(["motif", i, "poses", p.part]) || {}, next = pose(to, false), edits = [];
      for (const k of ["azimuth", "up", "turn"]) {
        const v = /** @type {any} */ (next)[k] ?? (k === "turn" && had.turn ? 0 : undefined);
        if (v !== undefined && v !== had[k]) edits.push({ set: { at: ["motif", i, "poses", p.part, k], to: v } });
      }
      return edits;
    }
    return [{ remove: { at: ["motif", i, "copies"] } }, { remove: { at: ["motif", i, "turning"] } }, { set: { at: ["motif", i, "poses"], to: copies(p).map(c => c.n === p.n ? pose(to, false) : pose(c.at, true)) } }];
  }
  /** Puts the chosen piece elsewhere, for good. @param {number[]} to @param {boolean} [goesOn] */
  async function moveTo(to, goesOn = false) {
    const p = chosen;
    if (!p) return;
    to = [wrapped(to[0]), to[1], to[2]];
    performance.mark("release");
    if (p.kind === "layer") {
      const d = app.doc.decal[p.of], edits = [{ set: { at: ["decal", p.of, "azimuth"], to: Number(to[0].toFixed(2)) } }];
      if (Math.abs(to[1] - p.at[1]) > .005) edits.push({ set: { at: ["decal", p.of, "up"], to: /** @type {any} */ (put(to[1], app.unit)) } });
      if (d.azimuth !== undefined || Math.abs(to[0] - p.at[0]) > .005 || edits.length > 1) {
        const by = to.map((v, k) => v - p.at[k]);
        for (const o of group(p)) { o.at = o.at.map((/** @type {number} */ v, /** @type {number} */ k) => v + by[k]); place(o); }
        await app.edit(`place of ${name(p)}`, edits, goesOn);
      }
      return;
    }
    const edits = pinEdits(p, to), was = pinned(p), n = copies(p).length;
    if (!edits.length) { place(p); mark(); return; }
    if (await app.edit(`place of ${name(p)}`, edits, goesOn)) {
      const near = app.clashes.find((/** @type {any} */ c) => c[0] === p.n);
      app.say(`${name(p)}: ${where(to, p)}${near ? `; too near by ${said(near[1], app.shows)}` : ""}${was ? "" : `; ${n > 1 ? `all ${n} copies are` : "it is"} pinned now`}.`);
    } else { place(p); mark(); }
  }
  async function pin() {
    const p = chosen;
    if (!p || p.kind !== "motif") return;
    if (!pinned(p)) { await app.edit(`${name(p)} pinned`, pinEdits(p, p.at)); app.say(`${name(p)} is pinned.`); }
    else { await app.edit(`${name(p)} spread`, [{ remove: { at: ["motif", p.of, "poses"] } }, { set: { at: ["motif", p.of, "copies"], to: copies(p).length } }]); app.say(`${name(p)} is spread again.`); }
  }
  function more() {
    const p = chosen;
    if (pinned(p)) app.edit(`one more ${name(p)}`, [{ add: { at: ["motif", p.of, "poses"], to: { azimuth: Number(wrapped(p.at[0] + 40).toFixed(1)), up: put(p.at[1], app.unit, 1) } } }]);
    else app.edit(`one more ${name(p)}`, [{ set: { at: ["motif", p.of, "copies"], to: copies(p).length + 1 } }]);
  }
  function less() {
    const p = chosen, n = copies(p).length;
    choose(null);
    if (n < 2) app.edit(`${name(p)} taken away`, [{ remove: { at: ["motif", p.of] } }]);
    else if (pinned(p)) app.edit(`a copy of ${name(p)} taken away`, [{ remove: { at: ["motif", p.of, "poses", p.part] } }]);
    else app.edit(`a copy of ${name(p)} taken away`, [{ set: { at: ["motif", p.of, "copies"], to: n - 1 } }]);
  }
  /** @param {number} by */
  function size(by) {
    const table = chosen.kind === "layer" ? "decal" : "motif", m = app.doc[table][chosen.of], side = m.width !== undefined ? "width" : m.height !== undefined ? "height" : "";
    if (!side) { app.say("Its size is the drawing’s own; set a width under Art."); return; }
    const all = group(chosen), mm = side === "width" ? Math.max(...all.map(p => p.size[0])) : Math.max(...all.map(p => p.size[1]));
    const border = chosen.kind === "motif" ? mm - lengthOf(m[side]) : 0, now = lengthOf(m[side]) || mm - border, next = Math.max(2, now + by);
    app.edit(`size of ${name(chosen)}`, [{ set: { at: [table, chosen.of, side], to: put(next, app.unit, 1) } }], true);
  }
  /** @param {any} v */
  const lengthOf = v => typeof v === "number" ? v * (app.unit === "in" ? 25.4 : 1) : /^[\d.]+ mm$/.test(v) ? parseFloat(v) : /^[\d.]+ in$/.test(v) ? parseFloat(v) * 25.4 : 0;

  // Drag.
  /** Where on the wall the pointer is, in a zone. @param {PointerEvent | MouseEvent} e @param {number} zone */
  function spot(e, zone) {
    const m = paper.getScreenCTM().inverse(), x = m.a * e.clientX + m.c * e.clientY + m.e, y = m.b * e.clientX + m.d * e.clientY + m.f;
    return zones[zone].plane.wrap(x, -(y - zones[zone].dy));
  }
  let asking = false, askNext = /** @type {any} */ (null), frame = 0;
  /** What is too near: one question on its way, the newest place next. @param {any} p @param {number[]} at */
  async function askNear(p, at) {
    if (p.kind !== "motif") return;
    if (asking) { askNext = [p, at]; return; }
    asking = true;
    try {
      const since = performance.now();
      const r = await app.ask("/api/near", { motif: p.of, copy: p.part, at });
      if (held?.p === p || lifted) { nearNow = r.near; mark(); }
      (held?.times || []).push(performance.now() - since);
    } catch { /* The next one asks again. */ }
    asking = false;
    if (askNext && (held || lifted)) { const [q, a] = askNext; askNext = null; askNear(q, a); } else askNext = null;
  }
  function show() {
    frame = 0;
    if (!held) return;
    const by = held.at.map((/** @type {number} */ v, /** @type {number} */ k) => v - held.p.at[k]);
    for (const o of group(held.p)) place(o, o.at.map((/** @type {number} */ v, /** @type {number} */ k) => v + by[k]));
    // Grips come back when it is let go of.
    if (grips.firstChild) fillIn(grips);
    const e = about.querySelector(".where");
    if (e) e.textContent = where(held.at, held.p);
  }
  paper.addEventListener("pointerdown", (/** @type {PointerEvent} */ e) => {
    const t = /** @type {any} */ (e.target), g = t.closest("[data-grip]")?.dataset.grip, n = Number(t.closest("[data-n]")?.dataset.n);
    if (e.button !== 0) return;
    if (lifted && chosen && !g) { const at = spot(e, chosen.zone); lifted = false; tellLift(); moveTo([at[0], at[1], chosen.at[2]]); return; }
    const p = g ? chosen : app.pieces.get(n);
    if (!p || p.kind === "spot") {
      if (chosen) choose(null);
      // Closer by, the wall is moved by its ground.
      if (close > 1 && middle) { panned = { from: [e.clientX, e.clientY], middle }; try { paper.setPointerCapture(e.pointerId); } catch { /* A made-up pointer. */ } }
      return;
    }
    if (!g) choose(p);
    e.preventDefault();
    paper.focus({ preventScroll: true });
    try { paper.setPointerCapture(e.pointerId); } catch { /* A made-up pointer. */ }
    const at = spot(e, p.zone);
    held = { p, g, from: at, at: [...p.at], size: 0, start: [e.clientX, e.clientY], gone: false, times: [] };
    room.classList.add("held");
  });
  // A finger on a piece moves the piece; beside one it moves the page.
  paper.addEventListener("touchstart", (/** @type {TouchEvent} */ e) => { if (lifted || close > 1 || /** @type {any} */ (e.target).closest(".piece, [data-grip]")) e.preventDefault(); }, { passive: false });
  paper.addEventListener("pointermove", (/** @type {PointerEvent} */ e) => {
    if (panned) { middle = [panned.middle[0] - (e.clientX - panned.from[0]) / scale, panned.middle[1] - (e.clientY - panned.from[1]) / scale]; look(); return; }
    if (!held) { if (lifted && chosen) { const a = spot(e, chosen.zone); askNear(chosen, [a[0], a[1], chosen.at[2]]); } return; }
    if (!held.gone && Math.hypot(e.clientX - held.start[0], e.clientY - held.start[1]) < 3) return;
    held.gone = true;
    const at = spot(e, held.p.zone), p = held.p, z = zones[p.zone].plane;
    if (!held.g) {
      let round = at[0] - held.from[0];
      if (round > 180) round -= 360; else if (round < -180) round += 360;
      const up = Math.min(z.zone.low + z.zone.slant, Math.max(z.zone.low, p.at[1] + at[1] - held.from[1]));
      held.at = [wrapped(p.at[0] + round), up, p.at[2]];
    } else if (held.g === "turn") {
      const a = within(p.at[0], z.zone.seam), [x, y] = z.develop(a, p.at[1]), [px, py] = z.develop(within(at[0], z.zone.seam), at[1]), k = (z.zone.upper - z.zone.lower) / 2 / Math.PI / z.zone.slant;
      const t = Math.atan2(py - y, px - x) * 180 / Math.PI - 90 + k * a;
      held.at = [p.at[0], p.at[1], wrapped(e.shiftKey ? Math.round(t / 15) * 15 : t)];
    } else {
      const a = within(p.at[0], z.zone.seam), [x, y] = z.develop(a, p.at[1]), far = (/** @type {number[]} */ w) => { const [px, py] = z.develop(within(w[0], z.zone.seam), w[1]); return Math.hypot(px - x, py - y); };
      held.size = far(at) / Math.max(far(held.from), 1);
      const s = shapes.get(p.n);
      if (s) for (const o of group(p)) shapes.get(o.n)?.setAttribute("transform", `${z.matrix([a, p.at[1], p.at[2]])} scale(${held.size.toFixed(4)})`);
      return;
    }
    if (!frame) frame = requestAnimationFrame(show);
    askNear(p, held.at);
  });
  const release = (/** @type {PointerEvent} */ e) => {
    panned = null;
    if (!held) return;
    const h = held;
    held = null;
    room.classList.remove("held");
    nearNow = [];
    cancelAnimationFrame(frame);
    frame = 0;
    /** @type {any} */ (app).nearTimes = h.times;
    if (e.type === "pointercancel" || !h.gone) { for (const o of group(h.p)) place(o); mark(); return; }
    if (h.g === "size") { const table = h.p.kind === "layer" ? "decal" : "motif", m = app.doc[table][h.p.of], now = lengthOf(m.width ?? m.height) || Math.max(...h.p.size); size(now * (h.size - 1)); }
    else moveTo(h.at);
  };
  paper.addEventListener("pointerup", release);
  paper.addEventListener("pointercancel", release);

  function tellLift() {
    const b = document.getElementById("pick-up");
    if (b) { b.textContent = lifted ? "Put it back" : "Pick up"; b.setAttribute("aria-pressed", String(lifted)); }
    note.textContent = lifted ? `${name(chosen)} is picked up: click or tap where it is to go, or move it with the arrow keys and press Enter.` : "";
  }
  function pickUp() { lifted = !lifted; tellLift(); if (lifted) { app.say(note.textContent); paper.focus(); } }
  let nudgeTimer = 0;
  /** Moves by keys: at once here, in the job when the keys rest. @param {number} round mm @param {number} up mm @param {number} turn degrees */
  function nudge(round, up, turn) {
    const p = chosen, z = zones[p.zone].plane, at = nudged || [...p.at], r = Math.max(z.radius(at[1]), 1);
    nudged = [wrapped(at[0] + round / r * 180 / Math.PI), Math.min(z.zone.low + z.zone.slant, Math.max(z.zone.low, at[1] + up)), wrapped(at[2] + turn)];
    held = { p, at: nudged, times: [] };
    show();
    held = null;
    grip();
    askNear(p, nudged);
    clearTimeout(nudgeTimer);
    nudgeTimer = setTimeout(settle, 350);
  }
  async function settle() {
    clearTimeout(nudgeTimer);
    if (!nudged) return;
    const to = nudged;
    nudged = null;
    await moveTo(to, true);
  }
  paper.addEventListener("keydown", (/** @type {KeyboardEvent} */ e) => {
    if (e.ctrlKey || e.metaKey) return;
    const all = [...decals(), ...motifs()], k = e.key;
    if (/^[nb]$/i.test(k) && all.length) { e.preventDefault(); const i = all.findIndex(p => same(p, chosen)); settle(); choose(all[(i + (k.toLowerCase() === "n" ? 1 : all.length - (i < 0 ? 0 : 1))) % all.length]); return; }
    if (!chosen) return;
    const far = e.shiftKey ? 10 : e.altKey ? .1 : 1, way = /** @type {Record<string, number[]>} */ ({ ArrowLeft: [-far, 0], ArrowRight: [far, 0], ArrowUp: [0, far], ArrowDown: [0, -far] })[k];
    if (way) { e.preventDefault(); nudge(way[0], way[1], 0); return; }
    if ((k === "[" || k === "]" || k === "{" || k === "}") && chosen.kind === "motif") { e.preventDefault(); nudge(0, 0, (k === "[" || k === "{" ? 1 : -1) * (e.shiftKey ? 15 : 1)); return; }
    if (k === "PageUp" || k === "PageDown") { e.preventDefault(); zoom(k === "PageUp" ? 2 : .5); return; }
    if (k === "+" || k === "=" || k === "-") { e.preventDefault(); size(k === "-" ? -1 : 1); return; }
    if (k.toLowerCase() === "p") { e.preventDefault(); settle().then(pin); return; }
    if (k === "Enter") { e.preventDefault(); if (lifted) { lifted = false; tellLift(); settle().then(() => app.say("Put down.")); } else pickUp(); return; }
    if (k === "Delete" || k === "Backspace") { e.preventDefault(); if (chosen.kind === "motif") less(); return; }
    if (k === "Escape") { lifted = false; tellLift(); nudged = null; clearTimeout(nudgeTimer); for (const o of group(chosen)) place(o); choose(null); }
  });
  paper.addEventListener("blur", () => settle());
  const resized = new ResizeObserver(() => { measure(); grip(); });
  resized.observe(paper);

  const made = {
    /** @param {string} why @param {any} [more] */
    refresh(why, more) {
      if (why === "work") return;
      if (why === "plan" && app.plan) {
        if (chosen) chosen = [...app.pieces.values()].find(p => same(p, chosen)) || null;
        lay(); tellList(); tellAbout(); tellFill(); cup.show();
      } else if (why === "moved" && more) {
        for (const n of more.gone) erase(n);
        for (const p of more.new) draw(p);
        for (const [n] of more.at) { const p = app.pieces.get(n); if (p) place(p); }
        mark(); tellList(); tellAbout(); tellFill();
        performance.mark("refilled");
        if (more.at.length) cup.show();
      } else { if (!app.plan) lay(); mark(); tellList(); tellAbout(); tellFill(); }
      fillIn(note, ...(lifted ? [note.textContent] : app.planFaults.filter((/** @type {any} */ f) => f.severity === "fault").slice(0, 4).map((/** @type {any} */ f) => el("p", { class: "fault", text: sentence(f) }))));
    },
    /** @param {(string | number)[]} at */
    show(at) {
      if (at[0] === "motif") { const p = motifs().find(p => p.of === at[1] && (at[2] !== "poses" || p.part === at[3])); if (p) choose(p, true); }
    },
    leave() { settle(); cup.leave(); resized.disconnect(); },
  };
  if (app.plan) made.refresh("plan"); else made.refresh("job");
  return made;
}
