// @ts-check
// The wall rolled out, as the program has it: azimuths in degrees from the front, heights in mm along the wall. A place is
// [azimuth, up, turn]. Drawn with y down.
const TAU = 2 * Math.PI;
const DEG = Math.PI / 180;
const sinc = (/** @type {number} */ z) => Math.abs(z) < 1e-4 ? 1 - z * z / 6 : Math.sin(z) / z;
/** (1 - cos z) / z without cancellation. @param {number} z */
const versine = z => z / 2 * sinc(z / 2) ** 2;

/** An azimuth in the turn that ends at the seam. @param {number} a @param {number} seam */
export function within(a, seam) {
  const by = ((a - seam) % 360 + 360) % 360;
  return seam - 360 + by;
}
/** An azimuth between -180 and 180. @param {number} a */
export const wrapped = a => { const w = ((a + 180) % 360 + 360) % 360 - 180; return w === -180 ? 180 : w; };

/** @param {{ low: number, lower: number, upper: number, slant: number, seam: number }} zone */
export function plane(zone) {
  const base = zone.lower / TAU, k = (zone.upper - zone.lower) / TAU / zone.slant;
  /** @param {number} azimuth @param {number} up @returns {[number, number]} */
  const develop = (azimuth, up) => {
    const a = azimuth * DEG, s = up - zone.low, phi = k * a, r = base + k * s;
    return [r * a * sinc(phi), s * Math.cos(phi) - base * a * versine(phi)];
  };
  /** @param {number} x @param {number} y @returns {[number, number]} */
  const wrap = (x, y) => {
    const q = base + k * y, z = k * x / q;
    const a = q > 0 && Math.abs(z) < 1e-4 ? x / q * (1 - z * z / 3) : Math.atan2(k * x, q) / k;
    const r = Math.hypot(q, k * x);
    return [a / DEG, zone.low + (2 * base * y + k * (x * x + y * y)) / (r + base)];
  };
  /** The transform that puts a piece there. @param {number[]} place */
  const matrix = ([azimuth, up, turn]) => {
    const [x, y] = develop(azimuth, up), t = turn * DEG - k * azimuth * DEG, c = Math.cos(t), s = Math.sin(t);
    const f = (/** @type {number} */ v) => v.toFixed(4);
    return `matrix(${f(c)} ${f(-s)} ${f(s)} ${f(c)} ${f(x)} ${f(-y)})`;
  };
  const radius = (/** @type {number} */ up) => base + k * (up - zone.low);
  /** A closed band between two azimuths and heights, as path data. @param {number} from @param {number} to @param {number} low @param {number} high */
  const band = (from, to, low, high) => {
    const n = Math.max(2, Math.ceil(Math.abs(to - from) / 2)), d = [];
    const at = (/** @type {number} */ a, /** @type {number} */ u) => { const [x, y] = develop(a, u); return `${x.toFixed(3)} ${(-y).toFixed(3)}`; };
    for (let i = 0; i <= n; i++) d.push(at(from + (to - from) * i / n, low));
    for (let i = n; i >= 0; i--) d.push(at(from + (to - from) * i / n, high));
    return `M${d.join("L")}Z`;
  };
  /** An open line at a height, or up an azimuth. @param {number[][]} places */
  const line = places => "M" + places.map(([a, u]) => { const [x, y] = develop(a, u); return `${x.toFixed(3)} ${(-y).toFixed(3)}`; }).join("L");
  /** The box of the whole wall: left, top, width, height, y down. */
  const box = () => {
    const xs = [], ys = [];
    for (let i = 0; i <= 72; i++) for (const u of [zone.low, zone.low + zone.slant]) {
      const [x, y] = develop(zone.seam - 360 + i * 5, u);
      xs.push(x); ys.push(-y);
    }
    const x0 = Math.min(...xs), y0 = Math.min(...ys);
    return [x0, y0, Math.max(...xs) - x0, Math.max(...ys) - y0];
  };
  return { develop, wrap, matrix, radius, band, line, box, zone };
}
