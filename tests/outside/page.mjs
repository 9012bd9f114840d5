// The page of `frusta open` in Debian's Chromium, used as a maker uses it who never sees the job file: from nothing to a kit by mouse,
// by keys, and at 390 px by touch; each kit compared byte for byte with `frusta make` on the job that the page saved.
//
//   node page.mjs FRUSTA NODE_MODULES DEMO [--only NAMES] [--shots FOLDER] [--self-test] [--kills N] [--edits N]
//
// NODE_MODULES holds playwright-core and axe-core (npm). DEMO is demo-data/harvest-fair. Figures are printed; a check that fails ends the
// run with 1. Names: nothing-mouse, nothing-keys, nothing-touch, drag, access, undo, lost, units, film, network, hostile.
import { spawn, spawnSync } from "node:child_process";
import { createRequire } from "node:module";
import fs from "node:fs";
import os from "node:os";
import path from "node:path";

const [frusta, modules, demo, ...more] = process.argv.slice(2);
const option = (name, usual) => { const i = more.indexOf(name); return i < 0 ? usual : more[i + 1]; };
const require = createRequire(path.resolve(modules) + path.sep);
const { chromium } = require("playwright-core");
const axe = fs.readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");
const only = option("--only", "").split(",").filter(Boolean);
const shots = option("--shots", "");
const work = fs.mkdtempSync(path.join(os.tmpdir(), "frusta-page-"));
// A slow build (cargo's `quick` profile) takes its time; what is asked of the program's speed is asked of a release build only.
const slow = more.includes("--slow");
const PATIENCE = slow ? 120000 : 30000;

let passed = 0;
const failed = [];
function check(good, says) {
  if (good) passed++; else failed.push(says);
  console.log(`${good ? "  ok" : "  FAILED"}  ${says}`);
}
const rank = (all, part) => [...all].sort((a, b) => a - b)[Math.min(all.length - 1, Math.floor(all.length * part))] ?? NaN;
const say = all => `median ${rank(all, .5).toFixed(1)}, p95 ${rank(all, .95).toFixed(1)}, n ${all.length}`;

/** The program with a job. */
async function opened(job, ...args) {
  const child = spawn(frusta, ["open", job, "--no-browser", ...args]);
  let said = "";
  child.stderr.on("data", d => { said += d; });
  const link = await new Promise((done, never) => { child.stdout.once("data", d => done(String(d).trim())); child.once("exit", c => never(new Error(`exit ${c}: ${said}`))); });
  return { child, link, said: () => said, end: () => new Promise(done => { child.once("exit", done); child.kill("SIGKILL"); }) };
}
const ARGS = ["--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"];
let browser;
async function page(link, context = {}) {
  const c = await browser.newContext({ viewport: { width: 1280, height: 800 }, ...context });
  const p = await c.newPage();
  p.asked = [];
  p.wrong = [];
  p.on("request", r => p.asked.push(r.url()));
  p.on("pageerror", e => p.wrong.push(String(e)));
  p.on("console", m => { if (m.type() === "error") p.wrong.push(m.text()); });
  p.setDefaultTimeout(PATIENCE);
  await p.goto(link);
  await p.waitForFunction(() => window.frusta?.job);
  return p;
}
const settled = p => p.waitForFunction(() => window.frusta.job && !window.frusta.working && (window.frusta.job.new || window.frusta.planFaults.length || window.frusta.upToDate));
/** Waits until the page did what was just asked: a revision more, and all at rest. */
async function after(p, act) {
  const rev = await p.evaluate(() => window.frusta.job.rev);
  await act();
  await p.waitForFunction(r => window.frusta.job.rev > r, rev);
  await p.waitForTimeout(250);
  await settled(p);
}
const shot = async (p, name) => { if (shots) { fs.mkdirSync(shots, { recursive: true }); await p.screenshot({ path: path.join(shots, `${name}.png`), fullPage: true }); } };
function tree(folder, from = folder) {
  return fs.readdirSync(folder, { withFileTypes: true }).flatMap(e => e.isDirectory() ? tree(path.join(folder, e.name), from) : [path.relative(from, path.join(folder, e.name))]).sort();
}
/** Does the kit that the page wrote equal the one that the program makes of the saved job? */
function equals(job, name) {
  const own = path.join(job, "kit"), made = path.join(job, "made");
  const r = spawnSync(frusta, ["make", job, "--out", made, "--quiet"], { encoding: "utf8" });
  const [a, b] = [own, made].map(f => fs.existsSync(f) ? tree(f) : []);
  const differ = a.filter(f => !b.includes(f) || !fs.readFileSync(path.join(own, f)).equals(fs.readFileSync(path.join(made, f))));
  check(r.status === 0 && a.length > 10 && a.join() === b.join() && !differ.length, `${name}: the kit of ${a.length} files equals frusta make byte for byte${differ.length ? `: differ ${differ.slice(0, 4)}` : ""}${r.stderr ? ` ${r.stderr.slice(0, 300)}` : ""}`);
}

// Invented drawings: a leaf and a round fruit.
const LEAF = `<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="24mm" viewBox="0 0 40 24"><path d="M0 12C10 -4 30 -4 40 12C30 28 10 28 0 12Z"/></svg>`;
const PLUM = `<svg xmlns="http://www.w3.org/2000/svg" width="30mm" height="34mm" viewBox="0 0 30 34"><path d="M15 0C24 2 30 10 30 19C30 28 23 34 15 34C7 34 0 28 0 19C0 10 6 2 15 0Z"/></svg>`;
function drawings() {
  const files = [["leaf.svg", LEAF], ["plum.svg", PLUM]].map(([n, t]) => { const f = path.join(work, n); fs.writeFileSync(f, t); return f; });
  return files;
}

/** How a person acts: by mouse, by keys or by touch. */
const mouse = {
  press: (p, s) => p.locator(s).click(),
  type: async (p, s, t) => { await p.locator(s).click(); await p.locator(s).fill(t); await p.locator(s).press("Enter"); },
  room: (p, r) => p.locator(`#rooms a[href="#${r}"]`).click(),
  async drag(p, n, dx, dy) {
    const at = await grasp(p, n);
    await p.mouse.move(at.x, at.y);
    await p.mouse.down();
    for (let i = 1; i <= 12; i++) await p.mouse.move(at.x + dx * i / 12, at.y + dy * i / 12);
    await p.mouse.up();
  },
};
const keysOnly = {
  async to(p, s) {
    // Tab until the place has the focus: what cannot be reached so cannot be used so.
    for (let i = 0; i < 250; i++) {
      if (await p.evaluate(s => document.activeElement?.matches(s), s)) return;
      await p.keyboard.press("Tab");
    }
    throw new Error(`no way by Tab to ${s}`);
  },
  async press(p, s) { await this.to(p, s); await p.keyboard.press("Enter"); },
  async type(p, s, t) { await this.to(p, s); await p.keyboard.press("Control+A"); await p.keyboard.type(t); await p.keyboard.press("Enter"); },
  async room(p, r) { await this.press(p, `#rooms a[href="#${r}"]`); },
  async drag(p, n, dx, dy) {
    await this.press(p, `.pieces button[data-n="${n}"]`);
    for (let i = 0; i < Math.round(Math.abs(dx) / 10); i++) await p.keyboard.press(dx > 0 ? "ArrowRight" : "ArrowLeft");
    for (let i = 0; i < Math.round(Math.abs(dy) / 10); i++) await p.keyboard.press(dy < 0 ? "ArrowUp" : "ArrowDown");
  },
};
const touch = {
  ...mouse,
  press: (p, s) => p.locator(s).tap(),
  type: async (p, s, t) => { await p.locator(s).tap(); await p.locator(s).fill(t); await p.locator(s).press("Enter"); },
  room: (p, r) => p.locator(`#rooms a[href="#${r}"]`).tap(),
  async drag(p, n, dx, dy) {
    const at = await grasp(p, n), cdp = await p.context().newCDPSession(p);
    const send = (type, x, y) => cdp.send("Input.dispatchTouchEvent", { type, touchPoints: type === "touchEnd" ? [] : [{ x, y }] });
    await send("touchStart", at.x, at.y);
    for (let i = 1; i <= 10; i++) await send("touchMove", at.x + dx * i / 10 / 2, at.y + dy * i / 10 / 2);
    await send("touchEnd");
  },
};
/** A place on the screen where a piece can be taken hold of: film, not an opening of it. */
async function grasp(p, n) {
  await p.locator("#wall").scrollIntoViewIfNeeded();
  const at = await p.evaluate(n => {
    const e = document.querySelector(`#wall .piece[data-n="${n}"]`), b = e.getBoundingClientRect();
    for (let i = 1; i < 20; i++) for (let j = 1; j < 20; j++) {
      const x = b.left + b.width * (i * 7 % 20) / 20, y = b.top + b.height * (j * 7 % 20) / 20;
      if (document.elementFromPoint(x, y) === e) return { x, y };
    }
    return null;
  }, n);
  if (!at) throw new Error(`piece ${n} cannot be taken hold of`);
  return at;
}

/** Point 1 of the issue: from an empty folder to a kit. */
async function nothing(name, hand, context) {
  const job = fs.mkdtempSync(path.join(work, `${name}-`)), program = await opened(job), p = await page(program.link, context);
  check(await p.evaluate(() => window.frusta.job.new && window.frusta.roomName === "cup"), `${name}: an empty folder opens on the cup, and nothing is written`);
  check(!fs.existsSync(path.join(job, "job.toml")), `${name}: no job file before the first reading`);
  await shot(p, `${name}-1-empty`);
  for (const [id, t] of [["new-rim", "270"], ["new-base", "207,5"]]) await hand.type(p, `#${id}`, t);
  await after(p, () => hand.type(p, "#new-wall", "6 1/2 in"));
  const pdf = await p.evaluate(async () => { const r = await fetch("/api/template/a4"); const b = new Uint8Array(await r.arrayBuffer()); return [r.status, String.fromCharCode(...b.slice(0, 5)), b.length]; });
  check(pdf[0] === 200 && pdf[1] === "%PDF-" && pdf[2] > 3000, `${name}: three readings alone give the template to print (${pdf[2]} bytes)`);
  const saved = fs.readFileSync(path.join(job, "job.toml"), "utf8");
  check(saved.includes("207.5") && saved.includes("\"6 1/2 in\""), `${name}: readings stand in the job as they were typed`);
  await shot(p, `${name}-2-cup`);
  await hand.room(p, "art");
  const files = drawings();
  for (const f of files) await after(p, () => p.locator("#add-file").setInputFiles(f));
  await after(p, async () => { await hand.type(p, "#add-name", "Marrow Day"); });
  await shot(p, `${name}-3-art`);
  await hand.room(p, "wall");
  await p.waitForSelector("#wall .piece");
  const found = await p.evaluate(() => window.frusta.found.filter(f => f.severity === "fault").map(f => f.says));
  check(!found.length, `${name}: two drawings spread and a name lie on the wall without a fault ${found}`);
  const three = await p.evaluate(() => { const all = [...window.frusta.pieces.values()].filter(p => p.kind === "motif"); return [all.find(p => p.of === 0).n, all.find(p => p.of === 1).n, all.filter(p => p.of === 1)[1].n]; });
  for (const [i, n] of three.entries()) {
    const was = await p.evaluate(n => window.frusta.pieces.get(n).at, n);
    await after(p, () => hand.drag(p, n, i % 2 ? -30 : 30, i === 1 ? -10 : 10));
    const is = await p.evaluate(n => window.frusta.pieces.get(n)?.at, n);
    check(is && (Math.abs(is[0] - was[0]) > .5 || Math.abs(is[1] - was[1]) > .5), `${name}: piece ${n} was dragged from ${was.map(v => v.toFixed(1))} to ${is?.map(v => v.toFixed(1))}`);
  }
  await after(p, () => hand.press(p, "#fill"));
  const spots = await p.evaluate(() => [...window.frusta.pieces.values()].filter(p => p.kind === "spot").length);
  check(spots > 20, `${name}: the gaps are filled with ${spots} spots`);
  await p.waitForTimeout(1500);
  await shot(p, `${name}-4-wall`);
  await hand.room(p, "film");
  await p.waitForSelector("figure img");
  const seen = await p.evaluate(async () => { const all = [...document.querySelectorAll("figure img")]; await Promise.all(all.map(i => i.decode())); return all.map(i => i.naturalWidth); });
  check(seen.length > 0 && seen.every(w => w > 100), `${name}: ${seen.length} film sheets are shown`);
  await shot(p, `${name}-5-film`);
  await hand.room(p, "finish");
  await after(p, () => hand.press(p, "#set-price"));
  const price = await p.evaluate(() => window.frusta.plan.finish.costing?.order.price_each);
  check(Number(price) > 0, `${name}: a price is set: ${price} a cup`);
  await shot(p, `${name}-6-finish`);
  await hand.room(p, "kit");
  await settled(p);
  await p.waitForFunction(() => !document.getElementById("write-kit").disabled);
  await hand.press(p, "#write-kit");
  await p.waitForFunction(() => /files are in/.test(document.getElementById("kit-words").textContent) || document.getElementById("kit-words").className === "fault");
  await shot(p, `${name}-7-kit`);
  equals(job, name);
  const outside = p.asked.filter(u => !u.startsWith(new URL(program.link).origin) && !u.startsWith("data:") && !u.startsWith("blob:"));
  check(!outside.length, `${name}: no request left this machine (${p.asked.length} requests) ${outside}`);
  check(!p.wrong.length, `${name}: the browser has nothing to complain of ${p.wrong.slice(0, 3)}`);
  await p.context().close();
  await program.end();
}

const CASES = {
  "nothing-mouse": () => nothing("mouse", mouse, {}),
  "nothing-keys": () => nothing("keys", keysOnly, {}),
  "nothing-touch": () => nothing("touch", touch, { viewport: { width: 390, height: 780 }, hasTouch: true, isMobile: true }),
};
/*CASES*/

browser = await chromium.launch({ executablePath: process.env.CHROMIUM || "/usr/bin/chromium", args: ARGS });
try {
  for (const [name, run] of Object.entries(CASES)) if (!only.length || only.includes(name)) {
    console.log(`== ${name}`);
    try { await run(); } catch (e) { check(false, `${name}: ${e.stack?.split("\n").slice(0, 4).join(" ")}`); }
  }
} finally {
  await browser.close();
  fs.rmSync(work, { recursive: true, force: true });
}
for (const f of failed) console.log(`FAILED ${f}`);
console.log(`${passed} passed, ${failed.length} failed`);
process.exit(failed.length ? 1 : 0);
