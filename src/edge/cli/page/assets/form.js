// @ts-check
// Elements and fields. Texts of the job come in as text only, never as markup.
import { length, said, stored, typed } from "/lengths.js";

/** @param {Element} e @param {Record<string, any>} attrs @param {any[]} kids */
function dress(e, attrs, kids) {
  for (const [k, v] of Object.entries(attrs)) {
    if (v === undefined || v === null || v === false) continue;
    if (k.startsWith("on")) e.addEventListener(k.slice(2), v);
    else if (k === "text") e.textContent = v;
    else if (k === "value") /** @type {any} */ (e).value = v;
    else e.setAttribute(k, v === true ? "" : v);
  }
  e.append(...kids.flat(9).filter(k => k !== null && k !== undefined && k !== false));
  return e;
}
/** @param {string} tag @param {Record<string, any>} [attrs] @param {...any} kids @returns {any} */
export const el = (tag, attrs = {}, ...kids) => dress(document.createElement(tag), attrs, kids);
/** @param {string} tag @param {Record<string, any>} [attrs] @param {...any} kids @returns {any} */
export const svg = (tag, attrs = {}, ...kids) => dress(document.createElementNS("http://www.w3.org/2000/svg", tag), attrs, kids);

/** Other children, none of them nothing. @param {Element} e @param {...any} kids */
export function fillIn(e, ...kids) { e.replaceChildren(); dress(e, {}, kids); }

/** Is a colour dark? @param {string} c */
const dark = c => { const v = parseInt(c.slice(1), 16); return (v >> 16) * .3 + (v >> 8 & 255) * .59 + (v & 255) * .11 < 140; };
/** A swatch of a film with its letter in it: never the colour alone. @param {string} colour @param {string} letter */
export const swatch = (colour, letter) => svg("svg", { viewBox: "0 0 18 18", width: 18, height: 18, "aria-hidden": "true" },
  svg("rect", { x: .5, y: .5, width: 17, height: 17, rx: 3, fill: colour, stroke: "#291915" }), svg("text", { x: 9, y: 13.5, "font-size": 13, "font-weight": 700, "text-anchor": "middle", fill: dark(colour) ? "#fff" : "#291915", text: letter }));

/** What was found, as a sentence. @param {any} f */
export function sentence(f) {
  const more = [f.measured && `found ${f.measured}`, f.allowed && `allowed ${f.allowed}`].filter(Boolean).join(", ");
  const mend = String(f.mend || "").replace(/write `mend = false`( to have it cut as drawn)?/, "untick “Thicken what is too thin to weed” to have it cut as drawn").replace(/write `mend = true`/, "tick “Thicken what is too thin to weed”").replace(/write start = "[^"]*" under \[finish.times\]/, "give it a start under Finish");
  const says = f.says.charAt(0).toUpperCase() + f.says.slice(1);
  return `${f.file ? `${f.file}: ` : ""}${says}${more ? ` (${more})` : ""}${mend ? `; ${mend}` : ""}.`.replace(/\.\.$/, ".");
}

export const key = (/** @type {(string | number)[]} */ at) => "f-" + at.join("-").replace(/[^\w-]/g, "_");

/**
 * A field bound to a place of the job: what stands there as it was typed, faults in a sentence under it.
 * @param {any} app
 * @param {{ at: (string | number)[], label: string, kind?: "length" | "number" | "text" | "choice" | "tick" | "colour", hint?: string, choices?: [string, string][], what?: string, wide?: boolean,
 *   usual?: string, live?: boolean, edits?: (value: any, text: string) => any[], read?: () => any, also?: (string | number)[][], placeholder?: string, suffix?: string }} o
 */
export function field(app, o) {
  const id = key(o.at), kind = o.kind || "text", what = o.what || o.label.toLowerCase();
  const input = kind === "choice" ? el("select", { id }, o.choices?.map(([v, t]) => el("option", { value: v, text: t })))
    : el("input", { id, type: kind === "tick" ? "checkbox" : kind === "colour" ? "color" : "text", autocomplete: "off", inputmode: kind === "number" ? "decimal" : undefined, placeholder: o.placeholder });
  const worth = el("span", { class: "worth", id: id + "-w" }), fault = el("p", { class: "fault", id: id + "-x", hidden: true });
  const unit = el("span", { class: "quiet" });
  const hint = o.hint ? el("span", { class: "worth", text: o.hint }) : null;
  const box = el("div", { class: "box" }, input, kind === "length" || o.suffix ? unit : null, kind === "length" ? worth : null);
  const label = el("label", { for: id, text: o.label });
  const whole = el("div", { class: "field" + (o.wide ? " wide" : "") + (kind === "tick" ? " tickbox" : "") }, kind === "tick" ? [el("div", { class: "box" }, input, label)] : [label, box], hint, fault);
  input.setAttribute("aria-describedby", `${id}-w ${id}-x`);
  let dirty = false, timer = 0, sent = "";
  const standing = () => o.read ? o.read() : app.get(o.at);
  const shown = () => {
    const v = standing();
    if (kind === "length") return typed(v, app.unit, app.shows);
    if (kind === "tick") return v === true;
    return v === undefined || v === null ? (kind === "choice" ? o.usual || "" : "") : Array.isArray(v) ? v.join("\n") : String(v);
  };
  const tellWorth = () => {
    if (kind !== "length") return;
    const t = input.value.trim(), l = t ? length(t, app.shows) : {};
    const plain = app.shows === "in" ? /^-?[\d.]+\s*(in|inch)?$/ : /^-?[\d.]+\s*(mm)?$/;
    worth.textContent = l.mm !== undefined && !plain.test(t) ? `= ${said(l.mm, app.shows, 1)}` : "";
    unit.textContent = l.unit ? "" : app.shows;
  };
  const wrong = (/** @type {string} */ why) => {
    fault.hidden = !why;
    fault.textContent = why;
    if (why) input.setAttribute("aria-invalid", "true"); else input.removeAttribute("aria-invalid");
  };
  const check = () => kind === "length" && input.value.trim() ? length(input.value, app.shows).why || "" : kind === "number" && input.value.trim() && !/^-?\d+([.,]\d+)?$/.test(input.value.trim()) ? `“${input.value.trim()}” is no number` : "";
  const commit = async (/** @type {boolean} */ goesOn) => {
    clearTimeout(timer);
    const why = check();
    if (why) { wrong(why); return; }
    const text = kind === "tick" ? String(input.checked) : input.value;
    if (text === sent && dirty === false) return;
    const t = kind === "tick" ? text : text.trim();
    const value = kind === "length" ? t && stored(t, app.unit, app.shows) : kind === "number" ? t && Number(t.replace(",", ".")) : kind === "tick" ? input.checked : t;
    const edits = o.edits ? o.edits(value, t) : value === "" || value === false ? [{ remove: { at: o.at } }] : [{ set: { at: o.at, to: value } }];
    dirty = false;
    sent = text;
    if (edits.length) await app.edit(what, edits, goesOn);
  };
  const refresh = () => {
    if (dirty && document.activeElement === input) return;
    const v = shown();
    if (kind === "tick") input.checked = v; else if (kind === "colour") input.value = v || "#7c3bb6"; else if (input.value !== v) input.value = v;
    sent = kind === "tick" ? String(v) : input.value;
    dirty = false;
    if (o.suffix) unit.textContent = o.suffix;
    tellWorth();
    const found = [o.at, ...(o.also || [])].flatMap(at => app.foundAt(at)).find((/** @type {any} */ f) => f.severity === "fault");
    wrong(found ? sentence(found) : "");
  };
  input.addEventListener("input", () => {
    dirty = true;
    tellWorth();
    clearTimeout(timer);
    if (o.live && !check()) timer = setTimeout(() => commit(true), 500);
  });
  input.addEventListener("change", () => commit(false));
  input.addEventListener("keydown", (/** @type {KeyboardEvent} */ e) => {
    if (e.key === "Enter" && kind !== "tick") { e.preventDefault(); commit(false); }
    if (e.key === "Escape" && dirty) { dirty = false; clearTimeout(timer); refresh(); }
  });
  whole.refresh = refresh;
  app.fields.add(whole);
  refresh();
  return whole;
}
