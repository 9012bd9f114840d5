// @ts-check
// Cup: a drawing of the cup with the tape where it is laid, the readings as typed, what they are worth, the wrap to print.
import { el, field, fillIn, sentence, svg } from "/form.js";
import { length, said, stored } from "/lengths.js";
import { plane } from "/plane.js";

/** @param {any} app @param {HTMLElement} room */
export function cupRoom(app, room) {
  const readings = el("section", { class: "card", "aria-labelledby": "h-read" }), worth = el("section", { class: "card", "aria-labelledby": "h-worth" });
  const drawn = el("section", { class: "card", "aria-labelledby": "h-drawn" }), wrap = el("section", { class: "card", "aria-labelledby": "h-wrap" });
  room.append(el("div", { class: "two" }, el("div", { class: "stack" }, readings, worth), el("div", {}, drawn, wrap)));
  let shape = "";
  const rings = () => Array.isArray(app.doc.cup?.rings) ? app.doc.cup.rings : null;

  function asked() {
    // The first three readings of a job that has no cup yet: written at once, when all three can be read.
    const across = el("input", { type: "radio", name: "how", value: "across" }), round = el("input", { type: "radio", name: "how", value: "round", checked: true });
    const boxes = [["Rim", "rim"], ["Base edge", "base"], ["Wall, along it", "wall"]].map(([label, id]) => {
      const input = el("input", { id: `new-${id}`, autocomplete: "off", "aria-describedby": `new-${id}-x new-${id}-w` });
      const why = el("p", { class: "fault", id: `new-${id}-x`, hidden: true }), w = el("span", { class: "worth", id: `new-${id}-w` });
      const check = () => {
        const l = input.value.trim() ? length(input.value, app.shows) : {};
        why.hidden = !l.why;
        why.textContent = l.why || "";
        if (l.why) input.setAttribute("aria-invalid", "true"); else input.removeAttribute("aria-invalid");
        w.textContent = l.mm !== undefined && (l.unit || /[^\d.]/.test(input.value.trim())) ? `= ${said(l.mm, app.shows, 1)}` : "";
        return l;
      };
      input.addEventListener("input", check);
      input.addEventListener("change", go);
      input.addEventListener("keydown", (/** @type {KeyboardEvent} */ e) => { if (e.key === "Enter") go(); });
      return { input, check, row: el("div", { class: "field" }, el("label", { for: `new-${id}`, text: label }), el("div", { class: "box" }, input, el("span", { class: "quiet unitword", text: app.shows }), w), why) };
    });
    async function go() {
      if (boxes.some(b => !b.input.value.trim() || b.check().why)) return;
      const [rim, base, wall] = boxes.map(b => stored(b.input.value, app.job.new ? app.shows : app.unit, app.shows));
      const cup = across.checked ? { diameters: { rim, base, slant: wall } } : { rings: [{ up: 0, girth: base }, { up: wall, girth: rim }], wall };
      if (await app.edit("the cup", [{ set: { at: ["cup"], to: cup } }])) document.getElementById("f-cup-wall")?.focus();
    }
    fillIn(readings, el("h3", { id: "h-read", text: "Three readings make a cup" }),
      el("p", { text: "Lay the tape round the cup at the rim and at the base edge, and along the wall from edge to edge. Type them as you read them: 88, 88,5, 3 1/2 in, 7/8." }),
      el("fieldset", { class: "choice" }, el("legend", { text: "The first two are" }), el("label", {}, round, "round the cup (tape)"), el("label", {}, across, "straight across")),
      el("div", { class: "fields" }, boxes.map(b => b.row)),
      el("p", {}, el("button", { type: "button", class: "main", text: "Take these readings", onclick: go })));
    readings.units = () => { for (const u of readings.querySelectorAll(".unitword")) u.textContent = app.shows; boxes.forEach(b => b.check()); };
  }

  function typedIn() {
    readings.units = null;
    const list = rings(), all = [];
    if (list) {
      const order = list.map((/** @type {any} */ r, /** @type {number} */ i) => ({ i, up: length(String(r.up ?? 0), app.unit).mm ?? 0 })).sort((/** @type {any} */ a, /** @type {any} */ b) => b.up - a.up);
      order.forEach(({ i }, /** @type {number} */ n) => {
        const name = n === 0 ? "Top reading" : n === order.length - 1 ? "Lowest reading" : `Reading ${order.length - n}`;
        all.push(el("fieldset", {}, el("legend", { text: name }), el("div", { class: "fields" },
          field(app, { at: ["cup", "rings", i, "girth"], label: "Round the cup", kind: "length", what: `${name.toLowerCase()}, round`, live: true, read: () => [].concat(rings()?.[i]?.girth ?? [])[0], edits: (v) => edits(["cup", "rings", i, "girth"], v) }),
          field(app, { at: ["cup", "rings", i, "up"], label: "Up from the base edge", kind: "length", what: `${name.toLowerCase()}, height`, live: true }),
          list.length > 2 ? el("button", { type: "button", text: "Take away", "aria-label": `Take away: ${name.toLowerCase()}`, onclick: () => app.edit("a reading", [{ remove: { at: ["cup", "rings", i] } }]) }) : null)));
      });
      all.push(el("p", {}, el("button", { type: "button", text: "Add a reading between", onclick: between })));
    } else {
      const at = (/** @type {string} */ k) => ["cup", "diameters", k], long = app.doc.cup?.diameters?.slant !== undefined ? "slant" : "height";
      all.push(el("div", { class: "fields" }, field(app, { at: at("rim"), label: "Across at the rim", kind: "length", live: true }), field(app, { at: at("base"), label: "Across at the base edge", kind: "length", live: true }),
        field(app, { at: at(long), label: long === "slant" ? "Wall, along it" : "Height, straight up", kind: "length", live: true })));
    }
    if (list) all.push(field(app, { at: ["cup", "wall"], label: "Wall, along it from base edge to rim", kind: "length", what: "the wall", live: true, edits: (v) => {
      if (v === "") return [{ remove: { at: ["cup", "wall"] } }];
      const was = app.doc.cup.wall, out = [{ set: { at: ["cup", "wall"], to: v } }];
      // A top reading at the rim goes with it.
      (rings() || []).forEach((/** @type {any} */ r, /** @type {number} */ i) => { if (was !== undefined && r.up === was) out.push({ set: { at: ["cup", "rings", i, "up"], to: v } }); });
      return out;
    } }));
    all.push(el("details", {}, el("summary", { text: "Bands, seam, handle, how far the tape strays" }), el("div", { class: "fields" },
      field(app, { at: ["cup", "keep-clear", "rim"], label: "Free of film below the rim", kind: "length", placeholder: "20", hint: "Lips come here: 20 mm at least is usual." }),
      field(app, { at: ["cup", "keep-clear", "base"], label: "Free of film above the base edge", kind: "length", placeholder: "6" }),
      field(app, { at: ["cup", "seam"], label: "Seam, from the front", kind: "number", placeholder: "180", suffix: "degrees" }),
      field(app, { at: ["cup", "lap"], label: "Overlap at the seam", kind: "length", placeholder: "0" }),
      field(app, { at: ["cup", "tape"], label: "One reading strays by", kind: "length", placeholder: "0.5" }),
      field(app, { at: ["cup", "capacity"], label: "Holds (printed on it)", hint: "Checks the readings: 20 fl oz, 600 ml" })), handle()));
    fillIn(readings, el("h3", { id: "h-read", text: list ? "Readings, tape round the cup" : "Readings, straight across" }), ...all,
      list ? null : el("p", {}, ""), el("p", {}, el("button", { type: "button", text: "Start the cup anew", onclick: () => app.edit("the cup taken away", [{ remove: { at: ["cup"] } }]) })));
  }
  const edits = (/** @type {any[]} */ at, /** @type {any} */ v) => v === "" ? [{ remove: { at } }] : [{ set: { at, to: v } }];
  function handle() {
    const one = app.doc.cup?.handle;
    if (!one) return el("button", { type: "button", text: "The cup has a handle", onclick: () => app.edit("a handle", [{ set: { at: ["cup", "handle"], to: { at: 180, width: "40 mm", from: "25 mm", to: "90 mm" } } }]) });
    const at = (/** @type {string} */ k) => Array.isArray(one) ? ["cup", "handle", 0, k] : ["cup", "handle", k];
    return el("fieldset", {}, el("legend", { text: "Handle: no film in its window" }), el("div", { class: "fields" }, field(app, { at: at("at"), label: "Middle, from the front", kind: "number", suffix: "degrees" }), field(app, { at: at("width"), label: "Width", kind: "length" }),
      field(app, { at: at("from"), label: "From", kind: "length" }), field(app, { at: at("to"), label: "To", kind: "length" }), el("button", { type: "button", text: "No handle", onclick: () => app.edit("no handle", [{ remove: { at: ["cup", "handle"] } }]) })));
  }
  function between() {
    const list = rings(), ups = list.map((/** @type {any} */ r) => length(String(r.up ?? 0), app.unit).mm ?? 0).sort((/** @type {number} */ a, /** @type {number} */ b) => a - b);
    const f = app.job.said.cup?.zones?.[0];
    let gap = [0, 0];
    ups.forEach((/** @type {number} */ u, /** @type {number} */ i) => { if (i && u - ups[i - 1] > gap[1] - gap[0]) gap = [ups[i - 1], u]; });
    const up = (gap[0] + gap[1]) / 2, girth = f ? f.lower + (f.upper - f.lower) * (up - f.low) / f.slant : 240;
    const put = (/** @type {number} */ mm) => app.unit === "in" ? Number((mm / 25.4).toFixed(3)) : Number(mm.toFixed(1));
    app.edit("a reading", [{ add: { at: ["cup", "rings"], to: { up: put(up), girth: put(girth) } } }]);
    app.say("A reading was added half-way; type what your tape says there.");
  }

  function tell() {
    const cup = app.job.said.cup;
    fillIn(worth, el("h3", { id: "h-worth", text: "What they are worth" }));
    const found = app.found.filter((/** @type {any} */ f) => f.steps[0] === "cup");
    if (!app.job.new) for (const f of found) worth.append(el("p", { class: f.severity === "fault" ? "fault" : f.severity === "warning" ? "warn" : "note", text: sentence(f) }));
    if (!cup) { worth.append(el("p", { text: "Nothing can be said of the cup yet." })); return; }
    const s = (/** @type {number} */ v) => said(v, app.shows), r = cup.readings, z = cup.zones;
    worth.append(el("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": "Readings against the cup" }, el("table", {}, el("caption", { class: "out", text: "Readings against the cup that fits them" }), el("thead", {}, el("tr", {}, ["Up", "Read", "On the cup", "Off"].map(t => el("th", { class: "n", scope: "col", text: t })))),
      el("tbody", {}, r.rings.map((/** @type {any} */ g) => el("tr", {}, [g.up_mm, g.read_mm, g.fitted_mm, g.off_mm].map(v => el("td", { class: "n", text: s(v) }))))))),
      el("p", { text: `Of a hundred cups measured like this, the wrap meets within ${s(Math.abs(r.worst_gap_at_rim_mm))} at the rim and ${s(Math.abs(r.worst_gap_at_base_mm))} at the base edge on 95.` }),
      el("p", { text: `Across: ${s(z[z.length - 1].upper / Math.PI)} at the rim, ${s(z[0].lower / Math.PI)} at the base; ${s(z.reduce((/** @type {number} */ t, /** @type {any} */ p) => t + p.tall, 0))} tall.` }),
      el("p", { text: r.taper === "not-distinguishable" ? "The tape cannot tell this cup from a straight one." : `A straight strip instead of the curved wrap would be off by ${s(r.rectangle_off_by_mm)}.` }));
  }

  function draw() {
    const cup = app.job.said.cup;
    fillIn(drawn, el("h3", { id: "h-drawn", text: "The cup, the tape where it is laid" }));
    const z = cup?.zones || [{ low: 0, lower: 208, upper: 270, slant: 165, tall: 164.7 }], tall = z.reduce((/** @type {number} */ t, /** @type {any} */ p) => t + p.tall, 0);
    const R = Math.max(...z.flatMap((/** @type {any} */ p) => [p.lower, p.upper])) / Math.PI / 2;
    const picture = svg("svg", { viewBox: `${-R - 30} -18 ${2 * R + 95} ${tall + 40}`, class: "drawn", role: "img", "aria-label": "The cup from the side with the readings", "font-size": 7 });
    let foot = tall, d = "";
    const left = [], right = [], at = (/** @type {number} */ up) => {
      let y = tall;
      for (const p of z) {
        const part = Math.min(Math.max(0, up - (p.low || 0)), p.slant) / p.slant;
        if (up <= (p.low || 0) + p.slant || p === z[z.length - 1]) return [(p.lower + (p.upper - p.lower) * part) / Math.PI / 2, y - p.tall * part];
        y -= p.tall;
      }
      return [R, 0];
    };
    for (const p of z) { left.push([-p.lower / Math.PI / 2, foot]); right.unshift([p.lower / Math.PI / 2, foot]); foot -= p.tall; left.push([-p.upper / Math.PI / 2, foot]); right.unshift([p.upper / Math.PI / 2, foot]); }
    d = "M" + [...left, ...right].map(p => p.map(v => v.toFixed(2)).join(" ")).join("L") + "Z";
    const rim = at(1e9), base = at(0), oval = (/** @type {number[]} */ p, /** @type {string} */ fill) => svg("ellipse", { cx: 0, cy: p[1], rx: p[0], ry: p[0] * .12, fill, stroke: "#291915", "stroke-width": .8 });
    picture.append(oval(base, "#efe9dc"), svg("path", { d, fill: "#efe9dc", stroke: "#291915", "stroke-width": .8 }), oval(rim, "#dcd4c3"));
    const words = (/** @type {number} */ x, /** @type {number} */ y, /** @type {string} */ t, /** @type {string} */ anchor = "start") => svg("text", { x, y, "text-anchor": anchor, fill: "#291915", text: t });
    if (cup) for (const g of cup.readings.rings) {
      const p = at(g.up_mm);
      picture.append(svg("path", { d: `M${-p[0]} ${p[1]}A${p[0]} ${p[0] * .12} 0 0 0 ${p[0]} ${p[1]}`, fill: "none", stroke: "#0a005e", "stroke-width": 1.6, "stroke-dasharray": "4 2" }), words(p[0] + 3, p[1] + 3, said(g.read_mm, app.shows)));
    } else for (const [p, t] of [[rim, "rim"], [base, "base edge"]]) picture.append(svg("path", { d: `M${-p[0]} ${p[1]}A${p[0]} ${p[0] * .12} 0 0 0 ${p[0]} ${p[1]}`, fill: "none", stroke: "#0a005e", "stroke-width": 1.6, "stroke-dasharray": "4 2" }), words(p[0] + 3, p[1] + 3, t));
    const mid = at((z[z.length - 1].low || 0) / 2 + z[z.length - 1].slant / 2);
    picture.append(svg("path", { d: `M${-base[0] - 4} ${base[1]}L${-rim[0] - 4} ${rim[1]}`, stroke: "#9b1c0c", "stroke-width": 1, fill: "none" }), words(-mid[0] - 7, mid[1], "wall", "end"));
    drawn.append(picture);
  }

  function paper() {
    fillIn(wrap, el("h3", { id: "h-wrap", text: "The wrap" }));
    const cup = app.job.said.cup;
    if (!cup) { wrap.append(el("p", { text: "As soon as three readings stand, the shape that wraps the cup is shown here, to print: nothing else is needed for it." })); return; }
    for (const z of cup.zones) {
      const p = plane(z), [x, y, w, h] = p.box(), pad = 4, from = z.seam - 360;
      wrap.append(svg("svg", { viewBox: `${x - pad} ${y - pad} ${w + 2 * pad} ${h + 2 * pad}`, class: "drawn", role: "img", "aria-label": "The wall rolled out, rim on top" },
        svg("path", { d: p.band(from, z.seam, z.low, z.low + z.slant), fill: "#fff", stroke: "#291915", "stroke-width": 1 }),
        svg("path", { d: p.line([[0, z.low], [0, z.low + z.slant]]), stroke: "#0a005e", "stroke-width": .7, "stroke-dasharray": "4 2", fill: "none" }),
        svg("path", { d: p.band(from, z.seam, z.free[1], z.low + z.slant), fill: "#857a70", opacity: .3 }), svg("path", { d: p.band(from, z.seam, z.low, z.free[0]), fill: "#857a70", opacity: .3 })));
    }
    const papers = app.doc.print?.papers || ["a4", "letter"];
    wrap.append(el("p", {}, ...papers.flatMap((/** @type {string} */ n) => [el("a", { href: `/api/template/${n}`, target: "_blank", rel: "noopener", text: `Print on ${n.length < 3 ? n.toUpperCase() : n} (PDF, 1:1)` }), " "]), el("a", { href: "/api/template/svg", target: "_blank", rel: "noopener", text: "One sheet, 1:1 (SVG)" })),
      el("p", { class: "quiet", text: "Print without scaling and measure the bar of 100 mm on it first. Wrap the paper round the cup: how the ends meet says more than any reading." }));
  }

  const made = { refresh(/** @type {string} */ why) {
    if (why === "work") return;
    const now = app.doc.cup ? JSON.stringify([Array.isArray(app.doc.cup.rings) ? app.doc.cup.rings.length : "d", !!app.doc.cup.handle]) : "none";
    if (now !== shape) { shape = now; if (app.doc.cup) typedIn(); else asked(); }
    readings.units?.();
    tell(); draw(); paper();
  } };
  made.refresh("job");
  return made;
}
