// @ts-check
// Film: each film and its sheets, what of them is used, what must be bought; the search for tighter film.
import { el, field, fillIn, swatch } from "/form.js";
import { said } from "/lengths.js";
import { newFilm } from "/art.js";

/** @param {any} app @param {HTMLElement} room */
export function filmRoom(app, room) {
  const list = el("div", { class: "cards" }), sheets = el("div", { class: "cards" }), search = el("section", { class: "card", "aria-label": "Tighter film" });
  room.append(el("h3", { text: "Films" }), list, search, el("h3", { text: "Sheets" }), sheets);
  let was = "", shown = "";
  /** @param {any} f @param {number} i */
  function film(f, i) {
    const at = (/** @type {any[]} */ ...k) => ["film", i, ...k], roll = f.roll !== undefined, figures = el("p", {});
    figures.refresh = () => {
      const b = app.plan?.films[i];
      figures.textContent = !b || !b.sheets ? "Not used yet" : `${b.sheets} ${b.sheets === 1 ? "sheet" : "sheets"}, ${Math.round(b.used_part * 100)} % of it in pieces; ` + (b.buy_sheets ? `buy ${b.buy_sheets}` : b.buy_mm ? `buy ${said(b.buy_mm, app.shows)} of the roll` : "nothing to buy");
    };
    app.fields.add(figures);
    figures.refresh();
    const letter = app.plan?.films[i]?.letter || String.fromCharCode(65 + i);
    return el("section", { class: "card", "aria-label": `Film ${f.name || i + 1}` }, el("h3", {}, swatch(f.colour || app.plan?.films[i]?.colour || "#ffffff", letter), el("span", { class: "out", text: `Film ${letter}: ` }), ` ${f.name || ""}`), figures, el("div", { class: "fields" },
      field(app, { at: at("name"), label: "Name", what: "name of a film", edits: (v, t) => rename(f.name, t, i) }),
      field(app, { at: at("colour"), label: "Colour in pictures", kind: "colour", what: `colour of ${f.name}` }),
      roll ? field(app, { at: at("roll"), label: "Roll, wide", kind: "length", what: `roll of ${f.name}` }) : field(app, { at: at("sheet", 0), label: "Sheet, left to right", kind: "length", what: `sheet of ${f.name}`, also: [at("sheet")] }),
      roll ? field(app, { at: at("longest"), label: "Longest cut", kind: "length", placeholder: "600" }) : field(app, { at: at("sheet", 1), label: "Sheet, along the feed", kind: "length", what: `sheet of ${f.name}` }),
      field(app, { at: at("margin"), label: "Edge left", kind: "length", placeholder: "5" }), field(app, { at: at("spacing"), label: "Between pieces", kind: "length", placeholder: "2" }), field(app, { at: at("weed"), label: "Narrowest that can be weeded", kind: "length", placeholder: "0.8" }),
      field(app, { at: at("grain"), label: "Pieces turn on it", kind: "choice", usual: "free", choices: [["free", "freely"], ["half", "by half a turn"], ["fixed", "not at all"]] }),
      field(app, { at: at("mirrored"), label: "Cut from the back", kind: "tick" })),
      el("div", { class: "ways" }, el("button", { type: "button", text: roll ? "It comes in sheets" : "It comes on a roll", onclick: () => app.edit(`stock of ${f.name}`, roll ? [{ remove: { at: at("roll") } }, { remove: { at: at("longest") } }, { set: { at: at("sheet"), to: ["300 mm", "200 mm"] } }] : [{ remove: { at: at("sheet") } }, { set: { at: at("roll"), to: "305 mm" } }]) }),
        el("button", { type: "button", text: "Take away", "aria-label": `Take away film ${f.name}`, onclick: () => app.edit(`film ${f.name} taken away`, [{ remove: { at: ["film", i] } }]) })));
  }
  /** A new name goes wherever the old one stands. @param {string} from @param {string} to @param {number} i */
  function rename(from, to, i) {
    const edits = /** @type {any[]} */ ([to ? { set: { at: ["film", i, "name"], to } } : { remove: { at: ["film", i, "name"] } }]);
    if (!to) return edits;
    (app.doc.motif || []).forEach((/** @type {any} */ m, /** @type {number} */ n) => { if (m.film === from) edits.push({ set: { at: ["motif", n, "film"], to } }); });
    (app.doc.accent || []).forEach((/** @type {any} */ a, /** @type {number} */ n) => {
      if (a.film === from) edits.push({ set: { at: ["accent", n, "film"], to } });
      if (a.films?.[from] !== undefined) edits.push({ set: { at: ["accent", n, "films", to], to: a.films[from] } }, { remove: { at: ["accent", n, "films", from] } });
    });
    (app.doc.decal || []).forEach((/** @type {any} */ d, /** @type {number} */ n) => (d.layers || []).forEach((/** @type {any} */ l, /** @type {number} */ k) => {
      if (l.film === from) edits.push({ set: { at: ["decal", n, "layers", k, "film"], to } });
      (l.films || []).forEach((/** @type {string} */ f, /** @type {number} */ j) => { if (f === from) edits.push({ set: { at: ["decal", n, "layers", k, "films", j], to } }); });
      for (const [c, f] of Object.entries(l.colours || {})) if (f === from) edits.push({ set: { at: ["decal", n, "layers", k, "colours", c], to } });
    }));
    const price = app.doc.finish?.price?.films?.[from], base = app.doc.finish?.base;
    if (price) edits.push({ set: { at: ["finish", "price", "films", to], to: price } }, { remove: { at: ["finish", "price", "films", from] } });
    for (const k of ["film", "ring-film"]) if (base?.[k] === from) edits.push({ set: { at: ["finish", "base", k], to } });
    if (base?.mark?.film === from) edits.push({ set: { at: ["finish", "base", "mark", "film"], to } });
    return edits;
  }
  const bar = el("progress", { max: 1, value: 0, "aria-label": "The search for tighter film" }), words = el("p", { role: "status", id: "search-words" });
  const go = (/** @type {string} */ effort, /** @type {string} */ t) => el("button", { type: "button", text: t, id: `search-${effort}`, onclick: () => app.replan(0, effort) });
  const stop = el("button", { type: "button", id: "search-stop", text: "Stop and keep the best", hidden: true, onclick: () => { app.ask("/api/enough", {}); stop.disabled = true; } });
  search.append(el("h3", { text: "Tighter film" }), el("p", { class: "quiet", text: "The first layout is made in a moment. A longer search puts the pieces closer together and may save a sheet." }), el("div", { class: "ways" }, go("normal", "Look for some seconds"), go("thorough", "Look for long"), stop), bar, words);
  function tellSearch() {
    const w = app.working, on = w && w.effort !== "quick" ? w : null;
    stop.hidden = !on;
    if (!on) stop.disabled = false;
    bar.hidden = !on;
    for (const b of search.querySelectorAll("button:not(#search-stop)")) b.disabled = !!w || !app.doc.film;
    if (on?.film) {
      const f = on.film, part = f.step / Math.max(1, f.steps);
      if (on.of !== f.name) { on.of = f.name; on.began = Date.now(); }
      bar.value = part;
      const left = part > .02 ? Math.round((Date.now() - on.began) / 1000 * (1 - part) / part) : null;
      words.textContent = `${f.name}: ${Math.round(part * 100)} % of the search, ${f.sheets} ${f.sheets === 1 ? "sheet" : "sheets"} so far, the last used to ${said(f.used, app.shows)}${left === null ? "" : `; about ${left} s left for this film`}`;
    } else if (on) words.textContent = "The pieces are made first …";
    else words.textContent = !app.plan ? "" : app.effort === "quick" ? "" : app.effort === "stopped" ? "The search was stopped: this is the best so far. A kit written now has it; frusta make would search to the end." : `As frusta make --effort ${app.effort} lays it.`;
  }
  const made = { refresh(/** @type {string} */ why) {
    tellSearch();
    if (why === "work") return;
    const now = JSON.stringify((app.doc.film || []).map((/** @type {any} */ f) => [f.name, f.colour, f.roll !== undefined]));
    if (now !== was) {
      was = now;
      const focus = document.activeElement?.id;
      fillIn(list, ...(app.doc.film || []).map(film), el("p", {}, el("button", { type: "button", id: "add-film", text: "Add a film", onclick: () => app.edit("a film", [{ add: { at: ["film"], to: newFilm(app) } }]) })));
      if (focus) document.getElementById(focus)?.focus();
    }
    const of = app.plan ? `${app.plan.number}` : "";
    if (of !== shown) {
      shown = of;
      fillIn(sheets, ...(app.plan?.sheets || []).map((/** @type {any} */ s, /** @type {number} */ i) => el("figure", { class: "card" }, el("img", { src: `/api/sheet/${i}?${app.plan.number}`, alt: `Sheet ${s.index} of ${app.plan.films[s.film].name} with the numbers of its pieces` }),
        el("figcaption", { text: `${app.plan.films[s.film].letter} ${app.plan.films[s.film].name} ${s.index}: ${s.pieces} pieces${s.spares ? ` and ${s.spares} spares` : ""}, ${Math.round(s.used_part * 100)} % used, ${said(s.used, app.shows)} along the feed; ${s.cut_min.toFixed(1)} min to cut, ${Math.round(s.weed_min)} min to weed` }))));
    }
  } };
  made.refresh("plan");
  app.fresh();
  return made;
}
