// Pages in a headless Chromium, driven over its own protocol: one browser for all, answers as JSON.
//
//   node browser.cjs NODE_MODULES < tasks.json
//
// NODE_MODULES holds puppeteer-core and axe-core (npm); Chromium is the system's (CHROMIUM names another).
// A task: { do: "rules" | "print" | "turn" | "shots" | "bare", page: PATH, ... }; its answer stands at its place.
"use strict";
const path = require("path"), fs = require("fs");
const modules = path.resolve(process.argv[2]);
const puppeteer = require(path.join(modules, "puppeteer-core"));
const axe = fs.readFileSync(path.join(modules, "axe-core", "axe.min.js"), "utf8");
const chromium = process.env.CHROMIUM || ["/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"].find(p => fs.existsSync(p));
const SOFT = ["--use-angle=swiftshader", "--enable-unsafe-swiftshader"];
const launch = args => puppeteer.launch({ executablePath: chromium, headless: true, args: ["--no-sandbox", ...args], protocolTimeout: 120000 });

async function open(browser, task, width, height) {
  const page = await browser.newPage();
  await page.setBypassCSP(true);
  await page.setViewport({ width, height, deviceScaleFactor: 1 });
  const asked = [], said = [];
  page.on("request", r => { if (!/^(file|data|blob):/.test(r.url())) asked.push(r.url()); });
  page.on("pageerror", e => said.push(String(e)));
  page.on("console", m => { if (m.type() === "error") said.push(m.text()); });
  await page.goto("file://" + path.resolve(task.page), { waitUntil: "load" });
  return { page, asked, said };
}

// All rules of axe-core, and what is wider than the screen, at each width.
async function rules(browser, task) {
  const out = [];
  for (const width of task.widths) {
    const { page, asked, said } = await open(browser, task, width, 900);
    await page.evaluate(axe);
    const r = await page.evaluate(async () => {
      const r = await axe.run(document, { resultTypes: ["violations"] });
      const wide = [...document.querySelectorAll("body *")].filter(e => !e.closest(".wide") && !e.closest("svg") && e.getBoundingClientRect().right > innerWidth + 1).map(e => e.tagName + "." + e.className);
      const small = [...document.querySelectorAll(".zone svg:not(.key) text[font-weight=bold]")].map(t => parseFloat(t.getAttribute("font-size")) * t.getScreenCTM().a);
      return { passes: r.passes.length, v: r.violations.map(v => [v.id, v.help, v.nodes.slice(0, 3).map(n => n.html.slice(0, 160))]),
        wide: [...new Set(wide)].slice(0, 5), width: innerWidth, scroll: document.documentElement.scrollWidth, small: small.length ? Math.min(...small) : null };
    });
    if (task.shot) await page.screenshot({ path: `${task.shot}-${width}.png`, fullPage: true });
    out.push({ ...r, asked, said });
    await page.close();
  }
  return out;
}

async function print(browser, task) {
  const { page } = await open(browser, task, 1280, 900);
  const start = Date.now();
  await page.pdf({ path: task.to, format: "A4", timeout: 100000 });
  await page.close();
  return { ms: Date.now() - start };
}

// The turning page: ready, then dragged, then by keys, then pictures from given ways round.
async function turn(browser, task) {
  const { page, asked, said } = await open(browser, task, 900, 1100);
  await page.waitForFunction(() => document.documentElement.dataset.ready === "webgl", { timeout: 30000 }).catch(() => {});
  const ready = await page.evaluate(() => document.documentElement.dataset.ready || null);
  if (ready !== "webgl") { await page.close(); return { ready, said }; }
  const now = () => page.$eval("#cup", e => Number(e.getAttribute("aria-valuenow")));
  const box = await (await page.$("#canvas")).boundingBox();
  const steps = {};
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.mouse.down();
  await page.mouse.move(box.x + box.width / 2 - 100, box.y + box.height / 2, { steps: 4 });
  await page.mouse.up();
  steps.dragged = await now();
  if (task.shot) await page.screenshot({ path: `${task.shot}-dragged.png` });
  await page.focus("#cup");
  await page.keyboard.press("Home"); steps.home = await now();
  for (let i = 0; i < 3; i++) await page.keyboard.press("ArrowRight");
  steps.right = await now();
  await page.keyboard.press("ArrowLeft"); steps.left = await now();
  await page.keyboard.press("PageUp"); steps.pageUp = await now();
  await page.keyboard.press("Home");
  await page.keyboard.press("ArrowUp"); await page.keyboard.press("ArrowUp"); await page.keyboard.press("ArrowUp"); await page.keyboard.press("ArrowUp");
  steps.tipped = await page.evaluate(() => elevation);
  await page.click("button[data-to=\"180\"]"); steps.back = await now();
  if (task.shot) await page.screenshot({ path: `${task.shot}-back.png` });
  const shots = await page.evaluate(ways => ways.map(([a, e, closer, along]) => { nearer(closer || 1, along || 0); turn(a, e); draw(); return canvas.toDataURL(); }), task.ways || []);
  const size = await page.evaluate(() => [canvas.width, canvas.height]);
  await page.evaluate(() => { nearer(1); turn(0, 0); });
  const level = () => page.evaluate(() => [close, Number(along.toFixed(3))]);
  steps.zoom = [];
  for (let i = 0; i < 4; i++) { if (await page.$eval("#closer", e => !e.disabled)) await page.click("#closer"); steps.zoom.push((await level())[0]); }
  await page.focus("#cup");
  await page.keyboard.press("ArrowUp"); steps.moved = (await level())[1];
  await page.keyboard.press("-"); steps.farther = (await level())[0];
  await page.keyboard.press("Home"); steps.whole = await level();
  await page.click("#go");
  await page.waitForFunction(() => document.getElementById("cup").getAttribute("aria-valuenow") !== "0", { timeout: 15000 }).catch(() => {});
  steps.kept = await now();
  steps.pressed = await page.$eval("#go", e => e.getAttribute("aria-pressed"));
  await page.close();
  return { ready, steps, size, shots, asked, said };
}

// What is shown of the pictures and of the live part, in a browser without WebGL or without script.
async function bare(browser, task) {
  const page = await browser.newPage();
  if (task.noscript) await page.setJavaScriptEnabled(false);
  await page.setViewport({ width: 900, height: 1100 });
  await page.goto("file://" + path.resolve(task.page), { waitUntil: "load" });
  await new Promise(r => setTimeout(r, 500));
  const seen = async s => { const e = await page.$(s); return e ? Boolean(await e.boundingBox()) : false; };
  const out = { stills: await seen("#stills img"), live: await seen("#live"), images: (await page.$$("#stills img")).length };
  if (task.shot) await page.screenshot({ path: task.shot, fullPage: true });
  await page.close();
  return out;
}

(async () => {
  const tasks = JSON.parse(fs.readFileSync(0, "utf8")), out = [];
  const live = await launch(SOFT);
  let plain = null;
  for (const t of tasks) {
    try {
      if (t.do === "rules") out.push(await rules(live, t));
      else if (t.do === "print") out.push(await print(live, t));
      else if (t.do === "turn") out.push(await turn(live, t));
      else if (t.do === "bare") {
        plain = plain || await launch(["--disable-gpu", "--disable-3d-apis"]);
        out.push(await bare(t.noscript ? live : plain, t));
      } else out.push({ error: `no such task: ${t.do}` });
    } catch (e) { out.push({ error: String(e) }); }
  }
  await live.close();
  if (plain) await plain.close();
  process.stdout.write(JSON.stringify(out));
})();
