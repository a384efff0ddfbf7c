// The charts of the pages: brings the elements a page has, posts what is pinned and painted in them, and
// leaves the keyboard where it was when the page is shown anew.
import { post, refresh, tell } from "./live.js";

const ELEMENTS = ["day-line", "coverage-grid"];

/** Loads what the page needs, and makes the drawings alive again after they were drawn anew. */
function enliven() {
  for (const name of ELEMENTS) {
    const all = document.querySelectorAll(name);
    if (!all.length) continue;
    if (customElements.get(name)) all.forEach((one) => one.again());
    else import(`./${name}.js`);
  }
}

/** Posts a change made in a chart; what was refused is told, and the page shows what stands. */
async function change(path, value) {
  try {
    return await post(path, value);
  } catch (error) {
    tell(error.message);
    await refresh();
    return null;
  }
}

document.addEventListener("pin", async (event) => {
  const day = event.target.closest("[data-day]");
  if (!day) return;
  const { setup, minutes } = event.detail;
  const answer = await change("/day/pin", { day: day.dataset.day, setup, minutes });
  if (!answer) return;
  // Looked up again: the page may have been shown anew meanwhile.
  const says = document.querySelector(`[data-day="${CSS.escape(day.dataset.day)}"] .pin-says`);
  if (says) says.textContent = answer.says;
  tell(answer.says);
});

document.addEventListener("paint", (event) => {
  if (event.target.matches("coverage-grid")) change("/setups/paint", event.detail);
});

// Which strip or cell had the keyboard, by what it stands for.
let last = null;

function key(element) {
  const one = element?.closest?.(".chart .strip, .chart [data-bar]");
  if (!one) return null;
  return { figure: one.closest(".chart").id, setup: one.closest("[data-setup]").dataset.setup, bar: one.dataset.bar };
}

document.addEventListener("focusin", (event) => {
  last = key(event.target);
});

function focusAgain() {
  if (!last) return;
  const now = key(document.activeElement);
  if (now ? now.setup === last.setup && now.bar === last.bar : document.activeElement !== document.body) return;
  const own = `#${CSS.escape(last.figure)} [data-setup="${CSS.escape(last.setup)}"]`;
  const all = document.querySelectorAll(last.bar === undefined ? own : `${own} [data-bar="${last.bar}"]`);
  [...all].find((one) => one.getClientRects().length)?.focus({ preventScroll: true });
}

enliven();
document.addEventListener("htmx:after:swap", () => {
  enliven();
  focusAgain();
});
