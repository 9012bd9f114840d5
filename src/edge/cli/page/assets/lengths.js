// @ts-check
// Lengths as makers type them: 88, 88,5, 3 1/2 in, 7/8, 8.9 cm. What was typed stays as typed, but for a decimal comma, which the
// job writes as a point.
/** @typedef {"mm" | "in"} Unit */
const FACTORS = /** @type {[RegExp, number][]} */ ([
  [/^(mm|milli(met(re|er)s?))$/i, 1], [/^(cm|centimet(re|er)s?)$/i, 10], [/^(m|met(re|er)s?)$/i, 1000],
  [/^(in\.?|inch(es)?|"|″|”|'')$/i, 25.4], [/^(ft|foot|feet)$/i, 304.8], [/^(yd|yards?)$/i, 914.4], [/^(mils?|thou)$/i, .0254],
]);
const PARTS = { "½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8", "⅓": "1/3", "⅔": "2/3" };

/** A number, a fraction or both, and what follows. @param {string} text */
function number(text) {
  const t = text.trim().replace(/[½¼¾⅛⅜⅝⅞⅓⅔]/g, c => " " + PARTS[/** @type {keyof typeof PARTS} */ (c)]).replace(/\s+/g, " ").trim();
  const m = /^([+-]?)(?:(\d+)[ -]+)?(\d+)\s*\/\s*(\d+)\s*(.*)$/.exec(t);
  if (m && Number(m[4])) return { value: (m[1] === "-" ? -1 : 1) * (Number(m[2] || 0) + Number(m[3]) / Number(m[4])), rest: m[5].trim() };
  // A comma before three digits can be read two ways.
  if (/\d,\d{3}(?!\d)/.test(t)) return null;
  const d = /^([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*(.*)$/.exec(t);
  if (d) return { value: Number(d[1].replace(",", ".")), rest: d[2].trim() };
  return null;
}

/** What a typed length is worth. @param {string} text @param {Unit} bare @returns {{ mm?: number, why?: string, unit?: boolean }} */
export function length(text, bare) {
  const n = number(text);
  if (/\d,\d{3}(?!\d)/.test(text)) return { why: `“${text.trim()}” can be read two ways: type a point for decimals and nothing for thousands` };
  if (!n || !Number.isFinite(n.value)) return { why: `“${text.trim()}” is no length: type a number, such as 88, 88.5, 3 1/2 in or 7/8` };
  if (!n.rest) return { mm: n.value * (bare === "in" ? 25.4 : 1), unit: false };
  const f = FACTORS.find(([is]) => is.test(n.rest));
  return f ? { mm: n.value * f[1], unit: true } : { why: `“${n.rest}” is no unit of length; mm, cm, m, in and ft are` };
}

/** What goes into the job for what was typed. @param {string} text @param {Unit} job @param {Unit} shown @returns {number | string} */
export function stored(text, job, shown) {
  // The job knows points only: a comma can be read two ways there.
  const t = text.trim().replace(/(\d),(\d{1,2})(?!\d)/, "$1.$2"), own = length(t, shown);
  if (own.unit === false && job !== shown) return `${t} ${shown}`;
  return /^-?\d+(\.\d+)?$/.test(t) && String(Number(t)) === t ? Number(t) : t;
}

/** How what stands in the job is shown, its unit said where it is not the one shown. @param {unknown} value @param {Unit} job @param {Unit} shown */
export function typed(value, job, shown) {
  if (value === undefined || value === null) return "";
  const t = String(value);
  if (job === shown) return t;
  return length(t, job).unit === false ? `${t} ${job}` : t;
}

/** A length worked out, in the unit shown. @param {number} mm @param {Unit} unit @param {number} [finer] */
export function said(mm, unit, finer = 0) {
  if (!Number.isFinite(mm)) return "–";
  const v = unit === "in" ? (mm / 25.4).toFixed(2 + finer) : mm.toFixed(1 + finer);
  return `${v.replace(/^-(0[.0]*)$/, "$1")} ${unit}`;
}

/** A length that is put into the job by hand: a bare number in the job's unit. @param {number} mm @param {Unit} job @param {number} [decimals] */
export function put(mm, job, decimals = 2) {
  return job === "in" ? Number((mm / 25.4).toFixed(decimals + 2)) : Number(mm.toFixed(decimals));
}
