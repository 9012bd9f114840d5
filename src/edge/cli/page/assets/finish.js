// @ts-check
// Finish: steps, coats, calendar, cost, as the maker's sheet has them; each rate with what it stands on.
import { el, field, fillIn, sentence } from "/form.js";
import { said } from "/lengths.js";

/** @param {any} app @param {HTMLElement} room */
export function finishRoom(app, room) {
  const steps = el("section", { class: "card", "aria-label": "The steps" }), price = el("section", { class: "card", "aria-label": "Price" }), account = el("section", { class: "card", "aria-label": "The account" }), calendar = el("section", { class: "card", "aria-label": "The calendar" }), rates = el("section", { class: "card", "aria-label": "The rates" });
  room.append(el("div", { class: "two" }, el("div", {}, steps, calendar), el("div", {}, price, account, rates)));
  const table = (/** @type {string} */ caption, /** @type {string[]} */ heads, /** @type {any[][]} */ rows) => el("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": caption }, el("table", {}, el("caption", { class: "out", text: caption }), el("thead", {}, el("tr", {}, heads.map(h => el("th", { scope: "col", text: h })))), el("tbody", {}, rows.map(r => el("tr", {}, r.map(c => el("td", { class: /^[\d.,\s–%-]+$/.test(String(c)) ? "n" : undefined, text: c })))))));
  const min = (/** @type {number} */ m) => m >= 1440 ? `${+(m / 1440).toFixed(1)} d` : m >= 60 ? `${+(m / 60).toFixed(1)} h` : `${Math.round(m)} min`;
  const money = (/** @type {any} */ v) => { const [whole, part = ""] = Number(v).toFixed(4).split("."); return `${whole}.${part.replace(/0{1,2}$/, "")}`; };
  let was = "";
  function prices() {
    const p = app.doc.finish?.price, now = JSON.stringify([!!p, (app.doc.film || []).map((/** @type {any} */ f) => [f.name, Object.keys(p?.films?.[f.name] || {})]), (app.doc.finish?.product || []).map((/** @type {any} */ q) => q.name)]);
    if (now === was) return;
    was = now;
    fillIn(price, el("h3", { text: "Price" }));
    const at = (/** @type {string} */ k) => ["finish", "price", k], f = (/** @type {string} */ k, /** @type {string} */ label, /** @type {any} */ more = {}) => field(app, { at: at(k), label, kind: "number", what: label.toLowerCase(), ...more });
    if (!p) {
      const hour = el("input", { id: "new-hour", inputmode: "decimal", autocomplete: "off", value: "18" }), currency = el("input", { id: "new-currency", autocomplete: "off", value: "EUR" });
      price.append(el("p", { text: "Say what an hour of yours costs, and the job is priced: a quote for the customer, an account for you. All other prices begin at 0: put in yours." }), el("div", { class: "fields" }, el("div", { class: "field" }, el("label", { for: "new-hour", text: "An hour of yours" }), hour), el("div", { class: "field" }, el("label", { for: "new-currency", text: "Currency" }), currency)),
        el("button", { type: "button", class: "main", id: "set-price", text: "Set a price", onclick: () => {
          const films = Object.fromEntries((app.doc.film || []).map((/** @type {any} */ g) => [g.name, g.roll !== undefined ? { "per-metre": 0 } : { "per-sheet": 0 }]));
          // What the plan pours and the job does not name yet: named, so that it can have a price.
          const named = (app.doc.finish?.product || []).map((/** @type {any} */ q) => q.name), poured = [...new Set((app.plan?.finish.steps || []).map((/** @type {any} */ s) => s.product).filter(Boolean))];
          const KINDS = /** @type {Record<string, string>} */ ({ "two-part clear resin": "two-part resin", "UV clear resin": "uv resin", "two-part clear coat": "isocyanate clear coat", paint: "paint", glue: "glue", glitter: "glitter" });
          const products = poured.filter(n => !named.includes(n) && KINDS[/** @type {string} */ (n)]).map(n => { const kind = KINDS[/** @type {string} */ (n)]; return { add: { at: ["finish", "product"], to: { name: n, kind, ...(kind === "two-part resin" || kind === "isocyanate clear coat" ? { mix: [1, 1] } : {}), price: 0, pack: "1 l" } } }; });
          const priced = (app.doc.finish?.product || []).flatMap((/** @type {any} */ q, /** @type {number} */ i) => poured.includes(q.name) && q.price === undefined ? [{ set: { at: ["finish", "product", i, "price"], to: 0 } }, { set: { at: ["finish", "product", i, "pack"], to: "1 l" } }] : []);
          app.edit("a price", [...products, ...priced, { set: { at: ["finish", "price", "currency"], to: currency.value.trim() } }, { set: { at: ["finish", "price", "hour"], to: Number(hour.value.replace(",", ".")) || 0 } }, ...Object.entries(films).map(([n, v]) => ({ set: { at: ["finish", "price", "films", n], to: v } }))]);
        } }));
      return;
    }
    price.append(el("div", { class: "fields" }, field(app, { at: at("currency"), label: "Currency" }), f("hour", "An hour of yours"), f("blank", "A blank cup", { placeholder: "0" }), f("consumables", "Consumables a cup", { placeholder: "0" }), f("packing", "Packing a cup", { placeholder: "0" }), f("overhead", "Overhead", { suffix: "%", placeholder: "0" }), f("reject", "Cups that fail", { suffix: "%", placeholder: "0" }),
      p.markup === undefined ? f("margin", "Margin, of the price", { suffix: "%", placeholder: "0" }) : f("markup", "Markup, on the cost", { suffix: "%" }), f("tax", "Tax", { suffix: "%", placeholder: "0" }), f("round-to", "Round up to", { placeholder: "0.01" }), field(app, { at: ["finish", "cups"], label: "Cups ordered", kind: "number", placeholder: "1" })),
      el("fieldset", {}, el("legend", { text: "Film" }), el("div", { class: "fields" }, (app.doc.film || []).map((/** @type {any} */ g) => {
        const by = Object.keys(p.films?.[g.name] || {})[0] || (g.roll !== undefined ? "per-metre" : "per-sheet");
        return field(app, { at: ["finish", "price", "films", g.name, by], label: `${g.name}, ${by.replace("per-", "a ").replace("-", " ")}`, kind: "number", what: `price of ${g.name}` });
      }))),
      (app.doc.finish?.product || []).length ? el("fieldset", {}, el("legend", { text: "Products" }), el("div", { class: "fields" }, app.doc.finish.product.map((/** @type {any} */ q, /** @type {number} */ i) => [field(app, { at: ["finish", "product", i, "price"], label: `${q.name}, a pack`, kind: "number" }), field(app, { at: ["finish", "product", i, "pack"], label: `${q.name}, it holds` })]))) : "",
      el("button", { type: "button", text: "No price", onclick: () => app.edit("no price", [{ remove: { at: ["finish", "price"] } }]) }));
  }
  function tell() {
    const f = app.plan?.finish;
    fillIn(steps, el("h3", { text: "Steps" }));
    fillIn(calendar, el("h3", { text: "Calendar" }));
    fillIn(account, el("h3", { text: "Account" }));
    fillIn(rates, el("h3", { text: "Rates, and what they stand on" }));
    for (const d of app.found.filter((/** @type {any} */ d) => d.steps[0] === "finish")) steps.append(el("p", { class: d.severity === "fault" ? "fault" : d.severity === "warning" ? "warn" : "note", text: sentence(d) }));
    if (!f) { steps.append(el("p", { class: "quiet", text: "As soon as the plan is made, the steps stand here." })); return; }
    steps.append(table("Steps", ["No.", "Step", "With", "Needs", "Hands on", "Then wait"], f.steps.map((/** @type {any} */ s) => [s.number, s.name, s.product || "", s.needs_ml ? `${s.needs_ml.toFixed(1)} ml` : s.pieces ? `${s.pieces} pieces` : "", min(s.set_up_min + s.each_min), s.next_from_min ? min(s.next_from_min) : ""])),
      el("p", { text: `Clear coats over the last film come to ${said(f.burial.clear_over_mm, app.shows, 1)}; ${said(f.burial.needed_mm, app.shows, 1)} bury it${f.burial.coats_to_add ? `: ${f.burial.coats_to_add} more ${f.burial.coats_to_add === 1 ? "coat is" : "coats are"} needed` : ""}.` }),
      el("h3", { text: "Cautions" }), el("p", { class: "quiet", text: "The product data sheet comes first; this is only what is usual." }), el("ul", {}, f.cautions.map((/** @type {any} */ c) => el("li", {}, el("strong", { text: `${c.title}. ` }), c.text))));
    if (f.calendar) calendar.append(table("Calendar", ["Step", "Begins", "Ends"], f.calendar.entries.map((/** @type {any} */ e) => [`${e.name}${f.cups > 1 ? `, load ${e.load}` : ""}`, String(e.begins).replace("T", " "), String(e.ends).replace("T", " ")])), el("p", { text: `Ready ${String(f.calendar.finished).replace("T", " ")}.` }));
    else calendar.append(el("div", { class: "fields" }, field(app, { at: ["finish", "times", "start"], label: "Start", placeholder: "2026-12-01 18:00", what: "start" })), el("p", { class: "quiet", text: "With a start the steps are laid into your hours." }));
    const c = f.costing;
    if (c) account.append(table("Account", ["What", "Amount", "Of", c.currency], [...c.order.lines.map((/** @type {any} */ l) => [l.item, l.amount, l.unit, money(l.total)]), ["cost of making", "", "", money(c.order.made)]]), el("p", {}, el("strong", { text: `${c.currency} ${money(c.order.price_each)} a cup` }), ` before tax; ${f.cups === 1 ? "the customer pays" : `${f.cups} cups with tax:`} ${c.currency} ${money(c.order.pays)}.`));
    else account.append(el("p", { class: "quiet", text: "No price is set." }));
    rates.append(el("details", {}, el("summary", { text: `${f.rates.length} rates` }), table("Rates", ["What", "Value", "Stands on"], f.rates.map((/** @type {any} */ r) => [r.what, r.value, r.basis]))));
  }
  const made = { refresh(/** @type {string} */ why) { if (why === "work") return; prices(); tell(); } };
  made.refresh("plan");
  app.fresh();
  return made;
}
