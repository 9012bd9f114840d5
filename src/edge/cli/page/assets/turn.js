// @ts-check
// The cup to turn by hand: the program's own script, the one that a kit's view/turn.html runs, mounted here.
import { el, fillIn } from "/form.js";

/** @param {any} app @param {HTMLElement} place */
export function turning(app, place) {
  const how = el("p", { class: "quiet", id: "turn-how", text: "Drag the cup or use the arrow keys; + and − come closer and go farther." });
  let cup = /** @type {any} */ (null), worn = "", wanted = false, busy = false, gone = false;
  const words = el("p", { class: "quiet", text: "The cup is shown as soon as the plan is made." });
  place.append(words);

  async function mount() {
    const number = app.plan.number, data = await app.ask(`/api/cup?${number}`);
    const { mount } = await import(`/api/cup.js?${number}`);
    const canvas = el("canvas", { id: "canvas" });
    const handle = el("div", { class: "cupbox", id: "cup", role: "slider", tabindex: "0", "aria-label": "Turn of the cup, degrees from the front", "aria-describedby": "turn-how", "aria-valuemin": -180, "aria-valuemax": 180, "aria-valuenow": 0, "aria-valuetext": "front" }, canvas);
    const button = (/** @type {string} */ t, /** @type {any} */ a) => el("button", { type: "button", text: t, ...a });
    const ways = el("div", { class: "ways" }, button("Front", { "data-to": 0 }), button("Right", { "data-to": 90 }), button("Back", { "data-to": 180 }), button("Left", { "data-to": -90 }), button("Closer", { id: "closer" }), button("Farther", { id: "farther", disabled: true }), button("Keep turning", { id: "go", "aria-pressed": "false" }));
    const live = el("div", { id: "live-cup" }, handle, how, ways), stills = el("div", { hidden: true });
    fillIn(place, live);
    const ids = /** @type {Record<string, any>} */ ({ canvas, cup: handle, live, stills });
    const page = { getElementById: (/** @type {string} */ id) => ids[id] || live.querySelector(`#${id}`), querySelectorAll: (/** @type {string} */ q) => live.querySelectorAll(q), documentElement: live };
    cup = await mount(data.data, page).catch(() => null);
    if (!cup) fillIn(place, el("p", { text: "This browser shows no WebGL 2: look at the pictures of the kit instead." }));
    worn = shape(data.data);
  }
  /** What a cup hangs on besides its pieces. @param {any} d */
  const shape = d => JSON.stringify([d.base, d.rim, d.high, d.films, d.wall, d.bare, d.low, d.printed]);

  async function show() {
    if (busy) { wanted = true; return; }
    busy = true;
    try {
      do {
        wanted = false;
        if (!app.plan || gone) break;
        if (!cup) await mount();
        else if (app.moved) await cup.show(await app.ask("/api/worn"));
        else {
          const data = await app.ask(`/api/cup?${app.plan.number}`);
          if (shape(data.data) === worn) await cup.show({ parts: data.data.parts, pieces: data.data.pieces });
          else { cup = null; await mount(); }
        }
        performance.mark("cup");
        place.dataset.shown = String(Number(place.dataset.shown || 0) + 1);
      } while (wanted);
    } catch (e) { if (!gone) words.textContent = `The cup cannot be shown: ${/** @type {any} */ (e).message}.`; }
    busy = false;
  }
  return { show, leave() { gone = true; }, /** @param {number} a */ face(a) { cup?.turn(a); } };
}
