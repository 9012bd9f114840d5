// The page of `frusta open` in Debian's Chromium, used as a maker uses it who never sees the job file: from nothing to a kit by mouse,
// by keys, and at 390 px by touch; each kit compared byte for byte with `frusta make` on the job that the page saved.
//
//   node page.mjs FRUSTA NODE_MODULES DEMO [--only NAMES] [--shots FOLDER] [--edits N] [--picture FILE] [--slow] [--self-test] [--assets FOLDER]
//
// NODE_MODULES holds playwright-core and axe-core (npm). DEMO is demo-data/harvest-fair. Figures are printed; a check that fails ends the
// run with 1. Names: nothing-mouse, nothing-keys, nothing-touch, drag, drag-1000, access, undo, lost, units, film, hostile, turn, picture, arithmetic, self-test (with --self-test).
// --slow: for a build that is not optimised: no figures are asked of it.
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
  // The page's own files from a folder instead of the program: to work on them without building.
  const assets = option("--assets", "");
  if (assets) await p.route(/\/[a-z]+\.(js|css)$/, r => { const f = path.join(assets, path.basename(new URL(r.request().url()).pathname)); return fs.existsSync(f) && !r.request().url().includes("/api/") ? r.fulfill({ path: f, contentType: f.endsWith("css") ? "text/css" : "text/javascript" }) : r.continue(); });
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
function compared(job) {
  const own = path.join(job, "kit"), made = path.join(job, "made");
  const r = spawnSync(frusta, ["make", job, "--out", made, "--quiet"], { encoding: "utf8" });
  const [a, b] = [own, made].map(f => fs.existsSync(f) ? tree(f) : []);
  const differ = a.filter(f => !b.includes(f) || !fs.readFileSync(path.join(own, f)).equals(fs.readFileSync(path.join(made, f))));
  return { same: r.status === 0 && a.length > 10 && a.join() === b.join() && !differ.length, files: a.length, differ, said: r.stderr };
}
function equals(job, name) {
  const c = compared(job);
  check(c.same, `${name}: the kit of ${c.files} files equals frusta make byte for byte${c.differ.length ? `: differ ${c.differ.slice(0, 4)}` : ""}${c.said ? ` ${c.said.slice(0, 300)}` : ""}`);
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
  await p.waitForSelector("#set-price");
  await settled(p);
  await after(p, () => hand.press(p, "#set-price"));
  const price = await p.evaluate(() => window.frusta.plan.finish.costing?.order.price_each);
  check(Number(price) > 0, `${name}: a price is set: ${price} a cup`);
  await shot(p, `${name}-6-finish`);
  await hand.room(p, "kit");
  await p.waitForSelector("#write-kit");
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
/** A copy of the demonstration. */
function copied(name, change = t => t) {
  const job = fs.mkdtempSync(path.join(work, `${name}-`));
  fs.cpSync(demo, job, { recursive: true });
  const file = path.join(job, "job.toml");
  fs.writeFileSync(file, change(fs.readFileSync(file, "utf8")));
  return job;
}
const followed = p => p.waitForFunction(() => !window.frusta.working && window.frusta.plan);

/** Point 2: what a drag costs. Figures are asked of a release build only; what is true is asked of any. */
async function drags(name, change, most) {
  const job = copied(name, change), since = Date.now(), program = await opened(job), p = await page(`${program.link}`);
  const shown = Date.now() - since;
  await settled(p);
  const planned = Date.now() - since;
  await p.evaluate(() => { location.hash = "#wall"; });
  await p.waitForFunction(() => document.querySelector("#cup-place")?.dataset.shown);
  const spots = await p.evaluate(() => [...window.frusta.pieces.values()].filter(p => p.kind === "spot").length);
  console.log(`${name}: ${spots} spots; page shown ${shown} ms, plan ${planned} ms after the command, first paint ${await p.evaluate(() => Math.round(performance.getEntriesByName("first-contentful-paint")[0]?.startTime))} ms after its request`);
  if (!slow) check(shown < 1000, `${name}: the page is there within a second of the command (${shown} ms, browser already running)`);
  const cdp = await p.context().newCDPSession(p);
  await cdp.send("Performance.enable", { timeDomain: "threadTicks" });
  const busy = async () => (await cdp.send("Performance.getMetrics")).metrics.find(m => m.name === "TaskDuration").value * 1000;
  const work = [], frames = [], near = [], refills = [], cups = [], kept = [];
  const motifs = await p.evaluate(() => [...window.frusta.pieces.values()].filter(p => p.kind === "motif" && window.frusta.plan.pinned[p.of]).map(p => p.n));
  for (const [i, n] of motifs.slice(0, slow ? 4 : 12).entries()) {
    const at = await grasp(p, n).catch(() => null);
    if (!at) continue;
    const before = await p.evaluate(() => [...window.frusta.pieces.values()].filter(p => p.kind === "spot").map(p => p.n));
    const cup = await p.evaluate(() => Number(document.querySelector("#cup-place").dataset.shown));
    const scale = await p.evaluate(() => document.getElementById("wall").getScreenCTM().a), rev = await p.evaluate(() => window.frusta.job.rev);
    await p.evaluate(() => { window.steps = []; let last = 0; const f = t => { if (last) window.steps.push(t - last); last = t; window.stepping = requestAnimationFrame(f); }; requestAnimationFrame(f); });
    await p.mouse.move(at.x, at.y);
    await p.mouse.down();
    // Ten millimetres there, by sixty steps round about.
    const by = 10 * scale * (i % 2 ? -1 : 1);
    const began = await busy(), before60 = frames.length;
    for (let k = 1; k <= 60; k++) await p.mouse.move(at.x + by * k / 60, at.y + 4 * Math.sin(k / 10));
    frames.push(...await p.evaluate(() => { cancelAnimationFrame(window.stepping); return window.steps; }));
    work.push((await busy() - began) / Math.max(1, frames.length - before60));
    await p.mouse.up();
    await p.waitForFunction(r => window.frusta.job.rev > r, rev);
    await p.waitForFunction(c => Number(document.querySelector("#cup-place").dataset.shown) > c, cup).catch(() => {});
    const t = await p.evaluate(() => { const at = n => performance.getEntriesByName(n).at(-1)?.startTime ?? NaN; return { release: at("release"), refilled: at("refilled"), cup: at("cup"), near: window.frusta.nearTimes, spots: [...window.frusta.pieces.values()].filter(p => p.kind === "spot").map(p => p.n), up: window.frusta.upToDate, moved: window.frusta.moved }; });
    near.push(...(t.near || []));
    if (t.up && t.moved) { refills.push(t.refilled - t.release); cups.push(t.cup - t.refilled); kept.push(before.filter(n => t.spots.includes(n)).length / before.length); }
    await settled(p);
  }
  console.log(`${name}: frames while dragging ${say(frames)} ms, of them the page’s own work (processor time of its thread, a frame) ${say(work)} ms; too near told ${say(near)} ms; refilled after release ${say(refills)} ms; cup after that ${say(cups)} ms; spots that kept their place: least ${Math.min(...kept).toFixed(3)}`);
  check(refills.length >= 3, `${name}: ${refills.length} drags were followed by the spots round them`);
  check(kept.every(k => k >= .8), `${name}: at least .8 of the spots keep their places at a move of 10 mm (least ${Math.min(...kept).toFixed(3)})`);
  if (!slow) {
    check(rank(frames, .95) < 17.5, `${name}: a frame of a drag takes ${rank(frames, .95).toFixed(1)} ms at p95`);
    check(rank(near, .95) < 50, `${name}: too near is told within ${rank(near, .95).toFixed(1)} ms at p95`);
    check(rank(refills, .95) < most, `${name}: spots stand anew ${rank(refills, .95).toFixed(0)} ms after release at p95, ${most} allowed`);
    check(rank(cups, .95) < 100, `${name}: the cup follows within ${rank(cups, .95).toFixed(0)} ms more at p95`);
  }
  // What is shown is not yet the kit's: it is said, and offered.
  const says = await p.locator(".fillstate").textContent();
  check(/anew/.test(says) && await p.locator("#anew").isVisible(), `${name}: what differs from a kit is said, and the kit's is offered`);
  await p.locator("#anew").click();
  await p.waitForFunction(() => !window.frusta.working && (window.frusta.planFaults.length || !window.frusta.moved && window.frusta.upToDate));
  await shot(p, name);
  await p.evaluate(() => { location.hash = "#kit"; });
  await p.waitForSelector("#write-kit");
  await settled(p);
  const faults = await p.evaluate(() => window.frusta.found.filter(f => f.severity === "fault").map(f => f.says));
  if (!faults.length) {
    await p.locator("#write-kit").click();
    await p.waitForFunction(() => /files are in/.test(document.getElementById("kit-words").textContent));
    equals(job, name);
  } else console.log(`${name}: after the drags the job has a fault, as a maker's would: ${faults}`);
  check(!p.wrong.length, `${name}: the browser has nothing to complain of ${p.wrong.slice(0, 3)}`);
  await p.context().close();
  await program.end();
}

/** All rules of axe, what is wider than the screen, and targets below 24 px. */
async function rules(p) {
  await p.evaluate(axe);
  return p.evaluate(async () => {
    const r = await axe.run(document, { resultTypes: ["violations"] });
    const small = [...document.querySelectorAll("button, nav a, input, select, summary, [role=slider], .grip")].filter(e => { const b = e.getBoundingClientRect(); return b.width && e.type !== "hidden" && (b.width < 23.5 || b.height < 23.5) && !e.closest(".out"); }).map(e => `${e.tagName}#${e.id || e.textContent.slice(0, 20)}`);
    return { violations: r.violations.map(v => `${v.id}: ${v.nodes.slice(0, 2).map(n => n.html.slice(0, 120)).join(" | ")}`), wide: document.documentElement.scrollWidth > innerWidth + 1 ? document.documentElement.scrollWidth : 0, small: [...new Set(small)].slice(0, 5) };
  });
}

/** Point 6: axe, widths, targets, text at 200 percent. */
async function access() {
  const job = copied("access"), program = await opened(job);
  let p = await page(program.link, { bypassCSP: true });
  const state = await p.context().storageState();
  await settled(p);
  for (const colours of ["none", "active"]) for (const width of [1280, 768, 320]) {
    await p.emulateMedia({ forcedColors: colours, reducedMotion: "reduce" });
    await p.setViewportSize({ width, height: 800 });
    for (const room of ["cup", "art", "wall", "film", "finish", "kit"]) {
      await p.evaluate(r => { location.hash = `#${r}`; }, room);
      await p.waitForFunction(r => window.frusta.roomName === r, room);
      await settled(p);
      await p.waitForTimeout(room === "wall" ? 700 : 150);
      if (room === "wall") await p.locator(".pieces button").nth(3).click();
      await p.evaluate(() => document.querySelectorAll("details").forEach(d => { d.open = true; }));
      const found = await rules(p);
      check(!found.violations.length && !found.wide && !found.small.length, `access: ${room} at ${width} px${colours === "active" ? ", forced colours" : ""} ${found.violations.join("; ")}${found.wide ? ` is ${found.wide} px wide` : ""}${found.small.length ? ` small targets ${found.small}` : ""}`);
      if (colours === "none") await shot(p, `${room}-${width}`);
    }
  }
  await p.emulateMedia({ forcedColors: "none" });
  await p.setViewportSize({ width: 1280, height: 800 });
  for (const room of ["cup", "art", "wall", "film", "finish", "kit"]) {
    await p.evaluate(r => { document.documentElement.style.fontSize = "200%"; location.hash = `#${r}`; }, room);
    await p.waitForTimeout(300);
    const wide = await p.evaluate(() => document.documentElement.scrollWidth);
    check(wide <= 1281, `access: ${room} with text at 200 percent is ${wide} px wide of 1280`);
  }
  void state;
  await p.context().close();
  await program.end();
}

/** Point 3: undo over every room, and the file at the end as it was. */
async function undo() {
  const job = copied("undo"), file = path.join(job, "job.toml"), before = fs.readFileSync(file, "utf8"), program = await opened(job), p = await page(program.link);
  await settled(p);
  const go = async r => { await p.evaluate(r => { location.hash = `#${r}`; }, r); await p.waitForFunction(r => window.frusta.roomName === r, r); };
  const type = async (id, t) => { const rev = await p.evaluate(() => window.frusta.job.rev); await p.locator(`#${id}`).fill(t); await p.locator(`#${id}`).press("Enter"); await p.waitForFunction(r => window.frusta.job.rev > r, rev); };
  await go("cup"); await type("f-cup-rings-1-girth", "238.5"); await type("f-cup-wall", "166");
  await go("art"); await type("f-motif-0-height", "48"); await type("f-decal-0-width", "80");
  await go("wall"); await settled(p); await p.locator(".pieces button").nth(4).click(); const r0 = await p.evaluate(() => window.frusta.job.rev); await p.keyboard.press("ArrowRight"); await p.keyboard.press("ArrowUp"); await p.waitForFunction(r => window.frusta.job.rev > r, r0);
  await go("film"); await type("f-film-0-spacing", "2.5"); await type("f-film-2-name", "moss");
  await go("finish"); await type("f-finish-price-hour", "21");
  const edited = fs.readFileSync(file, "utf8"), comments = t => t.split("\n").filter(l => /^\s*#/.test(l)).join("\n");
  check(edited !== before && comments(edited) === comments(before), "undo: edits in five rooms keep every comment");
  const lines = t => t.split("\n");
  const changed = lines(edited).filter((l, i) => l !== lines(before)[i]).length;
  check(lines(edited).length === lines(before).length && changed <= 24, `undo: ${changed} lines of ${lines(before).length} differ, no more than what was asked for touches`);
  let steps = 0;
  await p.locator("#room").focus();
  for (; steps < 40 && await p.evaluate(() => !!window.frusta.job.undo); steps++) { const rev = await p.evaluate(() => window.frusta.job.rev); await p.keyboard.press("Control+z"); await p.waitForFunction(r => window.frusta.job.rev > r, rev); }
  check(fs.readFileSync(file, "utf8") === before, `undo: ${steps} steps back give the file of the beginning, byte for byte`);
  for (let i = 0; i < steps; i++) { const rev = await p.evaluate(() => window.frusta.job.rev); await p.keyboard.press("Control+Shift+z"); await p.waitForFunction(r => window.frusta.job.rev > r, rev); }
  check(fs.readFileSync(file, "utf8") === edited, "undo: steps forth give the edited file again");
  const many = Number(option("--edits", slow ? "60" : "1000")), since = Date.now();
  await p.evaluate(async n => { for (let i = 0; i < n; i++) await window.frusta.edit(`name ${i}`, [{ set: { at: ["title"], to: `Fair ${i}` } }]); }, many);
  await p.evaluate(async n => { for (let i = 0; i < n; i++) await window.frusta.change("/api/undo", {}); }, many);
  check(fs.readFileSync(file, "utf8") === edited, `undo: ${many} edits and ${many} steps back give the same file (${((Date.now() - since) / many / 2).toFixed(1)} ms each)`);
  await p.context().close();
  await program.end();
}

/** Point 4, the page's part: it says that the program is gone, and goes on. */
async function lost() {
  const job = copied("lost"), port = 20000 + Math.floor(Math.random() * 20000), first = await opened(job, "--port", String(port)), p = await page(first.link);
  await settled(p);
  await first.end();
  await p.waitForSelector(".bar.bad");
  check(/program is gone/.test(await p.locator(".bar.bad").textContent()), "lost: the page says that the program is gone");
  const again = await opened(job, "--port", String(port));
  await p.waitForFunction(() => /started anew/.test(document.getElementById("bars").textContent));
  const other = await p.context().newPage();
  await other.goto(again.link);
  await p.bringToFront();
  await p.waitForFunction(() => !document.querySelector(".bar"));
  check(await p.evaluate(() => window.frusta.edit("name", [{ set: { at: ["title"], to: "after the cut" } }])), "lost: once the new link was opened the old window goes on");
  check(fs.readFileSync(path.join(job, "job.toml"), "utf8").includes("after the cut"), "lost: and saves");
  fs.appendFileSync(path.join(job, "job.toml"), "\n# by another hand\n");
  await p.waitForFunction(() => /changed outside/.test(document.getElementById("bars").textContent));
  await p.getByRole("button", { name: /Load it/ }).click();
  await p.waitForFunction(() => !/changed outside/.test(document.getElementById("bars").textContent));
  check(fs.readFileSync(path.join(job, "job.toml"), "utf8").includes("by another hand"), "lost: what another hand wrote is loaded, not written over");
  await p.context().close();
  await again.end();
}

/** Point 9: millimetres and inches. */
async function units() {
  const job = copied("units"), file = path.join(job, "job.toml"), before = fs.readFileSync(file, "utf8"), program = await opened(job), p = await page(program.link);
  await settled(p);
  await p.locator("input[name=unit][value=in]").check();
  for (const room of ["cup", "art", "wall", "film"]) {
    await p.evaluate(r => { location.hash = `#${r}`; }, room);
    await p.waitForFunction(r => window.frusta.roomName === r, room);
    await p.waitForTimeout(400);
    if (room === "wall") await p.locator(".pieces button").nth(3).click();
    // Nothing worked out is left in mm; what was typed in mm says so, and says its worth in inches beside it.
    const left = await p.evaluate(() => [...document.querySelectorAll("main *")].filter(e => !e.children.length && !e.closest("kbd, details p, svg, .fault, .warn, .note") && /\d mm\b|^mm$/.test(e.textContent)).map(e => e.textContent).slice(0, 5));
    check(!left.filter(t => !/100 mm|20 mm at least/.test(t)).length, `units: nothing is left in mm in ${room} ${left}`);
    const typed = await p.evaluate(() => [...document.querySelectorAll("main .field")].filter(f => / mm$/.test(f.querySelector("input")?.value || "")).every(f => / in$/.test(f.querySelector(".worth").textContent)));
    check(typed, `units: what was typed in mm says its worth in inches in ${room}`);
  }
  check(fs.readFileSync(file, "utf8") === before, "units: switching changes nothing in the job");
  await p.reload();
  await p.waitForFunction(() => window.frusta?.job);
  check(await p.evaluate(() => window.frusta.shows) === "in", "units: inches survive a reload");
  await p.evaluate(() => { location.hash = "#cup"; });
  const rev = await p.evaluate(() => window.frusta.job.rev);
  await p.locator("#f-cup-wall").fill("6 1/2");
  await p.locator("#f-cup-wall").press("Enter");
  await p.waitForFunction(r => window.frusta.job.rev > r, rev);
  check(fs.readFileSync(file, "utf8").includes('wall = "6 1/2 in"'), "units: 6 1/2 typed in inches stands as typed, with its unit");
  await p.context().close();
  await program.end();
}

/** Point 10: tighter film, with progress, and stop keeps the best. */
async function film() {
  const job = copied("film"), program = await opened(job), p = await page(program.link);
  await settled(p);
  await p.evaluate(() => { location.hash = "#film"; });
  await p.locator("#search-thorough").click();
  await p.waitForFunction(() => /% of the search/.test(document.getElementById("search-words").textContent));
  const words = await p.locator("#search-words").textContent();
  check(/sheets? so far, the last used to/.test(words), `film: the search tells how it goes: ${words}`);
  await p.waitForFunction(() => /left for this film/.test(document.getElementById("search-words").textContent));
  const since = Date.now();
  await p.locator("#search-stop").click();
  await p.waitForFunction(() => window.frusta.effort === "stopped");
  check(Date.now() - since < (slow ? 60000 : 8000), `film: stop keeps the best after ${Date.now() - since} ms`);
  check(await p.evaluate(() => window.frusta.plan.sheets.length > 0 && window.frusta.upToDate), "film: the best so far is shown");
  await p.context().close();
  await program.end();
}

/** Point 5: scripts in every text of the job, and in a drawing. */
async function hostile() {
  const evil = "<img src=x onerror=window.taken=1><script>window.taken=1</script>\\\"'`${window.taken=1}";
  const svgs = `<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="30mm" height="20mm" viewBox="0 0 30 20" onload="window.taken=1"><script>window.taken=1;fetch('http://192.0.2.1/')</script><image href="http://192.0.2.1/x.png" width="1" height="1"/><a xlink:href="javascript:window.taken=1"><path onclick="window.taken=1" d="M0 10C8 -3 22 -3 30 10C22 23 8 23 0 10Z"/></a><foreignObject><body xmlns="http://www.w3.org/1999/xhtml"><img src="x" onerror="window.taken=1"/></body></foreignObject></svg>`;
  const job = copied("hostile", t => t.replace(/^title = .*$/m, `title = """${evil}"""`).replace('text = "Best in show"', `text = "<b>x"`).replace(/^name = "(cream paint|clear resin|earth)"/gm, (_, n) => `name = '<i onmouseover=window.taken=1>${n}'`).replace('over = "earth"', "over = '<i onmouseover=window.taken=1>earth'") + `\n[[motif]]\nart = "art/<script>window.taken=1<script>.svg"\nwidth = 10\nfilm = "damson"\n`);
  fs.writeFileSync(path.join(job, "art", "bee.svg"), svgs);
  const program = await opened(job), p = await page(program.link), talk = [];
  p.on("dialog", d => { talk.push(d.message()); d.dismiss(); });
  await settled(p);
  for (const room of ["cup", "art", "wall", "film", "finish", "kit"]) {
    await p.evaluate(r => { location.hash = `#${r}`; }, room);
    await p.waitForTimeout(600);
    check(await p.evaluate(() => window.taken === undefined && !document.querySelector("main script, main [onerror], main [onmouseover], main iframe")), `hostile: ${room} shows texts of the job as texts`);
  }
  const other = await p.context().newPage();
  await other.goto(new URL("/api/drawing/12", program.link).href).catch(() => {});
  check(await other.evaluate(() => window.taken === undefined), "hostile: a drawing opened by itself runs nothing");
  const away = p.asked.filter(u => !u.startsWith(new URL(program.link).origin) && !/^(data|blob):/.test(u));
  check(!away.length && !talk.length, `hostile: nothing was asked of another machine ${away}`);
  await p.context().close();
  await program.end();
}

/** Point 7: how the cup turns, in software. */
async function turn() {
  const job = copied("turn"), program = await opened(job), p = await page(program.link, { deviceScaleFactor: 2 });
  await settled(p);
  await p.evaluate(() => { location.hash = "#wall"; });
  await p.waitForFunction(() => document.querySelector("#cup-place")?.dataset.shown);
  const got = await p.evaluate(async () => {
    const c = document.getElementById("canvas"), gl = c.getContext("webgl2"), h = document.getElementById("cup"), times = [];
    for (let i = 0; i < 40; i++) {
      const since = performance.now();
      h.dispatchEvent(new KeyboardEvent("keydown", { key: "ArrowRight", bubbles: true, cancelable: true }));
      await new Promise(d => requestAnimationFrame(() => { gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, new Uint8Array(4)); d(); }));
      times.push(performance.now() - since);
    }
    return { times, size: [c.width, c.height] };
  });
  console.log(`turn: ${got.size.join(" x ")} pixels, a frame with all pixels done ${say(got.times)} ms (software GL, ${os.cpus().length} cores shared)`);
  check(got.times.length === 40, "turn: the cup turns");
  const saved = await p.evaluate(async () => { const r = await fetch("/api/cup.js"); return (await r.text()).length; });
  check(saved > 5000, "turn: by the script of view/turn.html");
  await p.context().close();
  await program.end();
}

/** The page's own arithmetic, against closed forms: the sector of a cone in polar coordinates about its apex, and inches of 25.4 mm. */
async function arithmetic() {
  const assets = path.join(path.dirname(new URL(import.meta.url).pathname), "../../src/edge/cli/page/assets");
  const { plane, within, wrapped } = await import(path.join(assets, "plane.js")), { length, stored, typed } = await import(path.join(assets, "lengths.js"));
  let worst = 0, back = 0;
  for (let i = 0; i < 4000; i++) {
    const r = () => Math.random(), lower = 150 + 150 * r(), slant = 60 + 150 * r(), low = 40 * r(), upper = lower + (r() - .5) * slant * 1.4 || lower + 1;
    const p = plane({ lower, upper, slant, low, seam: 180 }), a = 360 * r() - 180, up = low + slant * r();
    const k = (upper - lower) / 2 / Math.PI / slant, R = lower / 2 / Math.PI / k, s = up - low, [x, y] = p.develop(a, up), phi = k * a * Math.PI / 180;
    if (Math.abs(k) > 1e-4) worst = Math.max(worst, Math.hypot(x - (R + s) * Math.sin(phi), y - ((R + s) * Math.cos(phi) - R)));
    const [a2, up2] = p.wrap(x, y);
    back = Math.max(back, Math.abs(a2 - a) * Math.PI / 180 * p.radius(up), Math.abs(up2 - up));
  }
  check(worst < 1e-7 && back < 1e-6, `arithmetic: the wall rolls out as a sector does (off by ${worst.toExponential(1)} mm) and back (${back.toExponential(1)} mm)`);
  check(within(181, 180) === -179 && within(180, 180) === -180 && wrapped(540) === 180 && wrapped(-181) === 179, "arithmetic: azimuths round the seam");
  const worth = [["88", "mm", 88], ["88.5", "mm", 88.5], ["88,5", "mm", 88.5], ["3 1/2 in", "mm", 88.9], ["3-1/2\"", "mm", 88.9], ["7/8", "in", 22.225], ["3½", "in", 88.9], ["8.9 cm", "in", 89], ["1 ft", "mm", 304.8]];
  check(worth.every(([t, u, mm]) => Math.abs(length(t, u).mm - mm) < 1e-9), "arithmetic: lengths as makers type them");
  check(["", "abc", "1,234", "3 furlongs", "--4"].every(t => length(t, "mm").why), "arithmetic: what is no length is told, and so is what can be read two ways");
  check(stored("207.5", "mm", "mm") === 207.5 && stored("207.50", "mm", "mm") === "207.50" && stored("7/8", "mm", "in") === "7/8 in" && typed(88, "mm", "in") === "88 mm" && typed("3 1/2 in", "mm", "mm") === "3 1/2 in", "arithmetic: what was typed stays as typed");
}

/** README's picture: the demonstration's wall with a piece chosen. */
async function picture() {
  const file = option("--picture", "");
  if (!file) return;
  const program = await opened(copied("picture")), p = await page(program.link, { viewport: { width: 1180, height: 760 } });
  await settled(p);
  await p.evaluate(() => { location.hash = "#wall"; });
  await p.waitForFunction(() => document.querySelector("#cup-place")?.dataset.shown);
  await p.locator(".pieces button", { hasText: "sunflower" }).click();
  await p.locator("#wall").blur();
  await p.waitForTimeout(800);
  await p.screenshot({ path: file });
  check(fs.statSync(file).size > 20000, `picture: ${file}`);
  await p.context().close();
  await program.end();
}

/** Damages, each of which its check must find. */
async function selfTest() {
  if (!more.includes("--self-test")) return;
  const job = fs.mkdtempSync(path.join(work, "self-"));
  fs.cpSync(path.join(demo, "../first-cup"), job, { recursive: true });
  const program = await opened(job), p = await page(program.link, { bypassCSP: true });
  await settled(p);
  await p.evaluate(() => { location.hash = "#kit"; });
  await p.locator("#write-kit").click();
  await p.waitForFunction(() => /files are in/.test(document.getElementById("kit-words").textContent));
  check(compared(job).same, "self-test: whole, the kit is the program's");
  const file = path.join(job, "kit/map/map.svg"), bytes = fs.readFileSync(file);
  bytes[bytes.length >> 1] ^= 1;
  fs.writeFileSync(file, bytes);
  const one = compared(job);
  check(!one.same && one.differ.join() === path.join("map", "map.svg"), "self-test: one bit of one file is found");
  fs.rmSync(file);
  check(!compared(job).same, "self-test: a file that is lacking is found");
  await p.evaluate(() => { location.hash = "#cup"; });
  await p.waitForSelector("#f-cup-wall");
  const good = await rules(p);
  check(!good.violations.length && !good.small.length && !good.wide, "self-test: whole, the page breaks no rule");
  await p.evaluate(() => { document.querySelector('label[for="f-cup-wall"]').remove(); document.getElementById("undo").style.cssText = "min-height:0;height:9px;padding:0"; document.getElementById("room").style.width = "3000px"; });
  const bad = await rules(p);
  check(bad.violations.some(v => v.startsWith("label")) && bad.small.length > 0 && bad.wide > 0, "self-test: a lost label, a small target and a wide page are found");
  await p.evaluate(() => fetch("http://192.0.2.1/").catch(() => {}));
  check(p.asked.some(u => u.includes("192.0.2.1")), "self-test: a request to another machine is seen");
  await p.context().close();
  await program.end();
}

Object.assign(CASES, {
  drag: () => drags("drag", t => t, 150),
  "drag-1000": () => drags("drag-1000", t => t.replace("smallest = 4\n", "smallest = 2.6\n").replace("largest = 6.5", "largest = 3.4").replace("gap = 1.2", "gap = 0.7"), 300),
  access, undo, lost, units, film, hostile, turn, picture, arithmetic, "self-test": selfTest,
});

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
