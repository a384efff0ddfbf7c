// Bounds of sections on the strip: dragged, or moved, joined and split by keys.
import * as song from "./song-clock.js";
import { post, refresh, tell } from "./live.js";

let dragged = null;
let waiting = 0;

const strip = () => document.querySelector("song-strip");
const holds = () => [...document.querySelectorAll(".strip-bounds .bound")];
const index = (bound) => Number(bound.dataset.bound);

/** Says where each bound is; a swap puts them where they were. */
function attach() {
  const map = song.map();
  if (!map) return;
  for (const bound of holds()) {
    // What is being moved stays where it was put.
    if (bound.dataset.to === undefined) place(bound, map.sections[index(bound)]?.to ?? 0);
  }
}

function place(bound, seconds) {
  bound.setAttribute("x", `${((seconds / song.map().length) * 100).toFixed(3)}%`);
  bound.setAttribute("aria-valuenow", seconds.toFixed(2));
  const { bar, beat } = song.address(seconds);
  bound.setAttribute("aria-valuetext", `bar ${bar} beat ${beat}, ${song.clock(seconds)}`);
}

/** Where the bound is now. */
const where = (bound) => Number(bound.dataset.to ?? song.map().sections[index(bound)].to);

/** Moves it, as far as the two sections leave room. */
function move(bound, seconds) {
  const { sections } = song.map();
  const [before, after] = [sections[index(bound)], sections[index(bound) + 1]];
  if (seconds < before.from + 0.05 || seconds > after.to - 0.05) return;
  bound.dataset.to = seconds;
  bound.dataset.busy = "";
  place(bound, seconds);
}

/** Sends one change, made on what is shown. */
async function send(change) {
  const revision = Number(document.querySelector("main").dataset.revision);
  try {
    await post("/song/bounds", { revision, ...change });
  } catch (error) {
    tell(error.message);
    for (const bound of holds()) letGo(bound);
    attach();
    return;
  }
  for (const bound of holds()) letGo(bound);
  await refresh();
}

function letGo(bound) {
  delete bound.dataset.to;
  delete bound.dataset.busy;
}

function drop(bound) {
  clearTimeout(waiting);
  const to = bound.dataset.to;
  delete bound.dataset.busy;
  if (to !== undefined) send({ do: "move", bound: index(bound), to: Number(to) });
}

document.addEventListener("pointerdown", (event) => {
  const bound = event.target.closest?.(".bound");
  if (!bound || event.button !== 0) return;
  event.preventDefault();
  bound.focus({ preventScroll: true });
  bound.setPointerCapture(event.pointerId);
  dragged = bound;
});
document.addEventListener("pointermove", (event) => {
  if (!dragged) return;
  const box = strip().dial.getBoundingClientRect();
  const seconds = ((event.clientX - box.left) / box.width) * song.map().length;
  move(dragged, event.altKey ? seconds : song.nearestBar(seconds));
});
document.addEventListener("pointerup", () => {
  if (dragged) drop(dragged);
  dragged = null;
});
document.addEventListener("pointercancel", () => {
  if (dragged) letGo(dragged);
  dragged = null;
  attach();
});

document.addEventListener("keydown", (event) => {
  const bound = event.target.closest?.(".bound");
  if (!bound || event.ctrlKey || event.metaKey || event.altKey) return;
  const by = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1 }[event.key];
  if (by) {
    const from = where(bound);
    move(bound, event.shiftKey ? song.beatFrom(from, by) : song.barFrom(from, by));
    // Several presses are one change.
    clearTimeout(waiting);
    waiting = setTimeout(() => drop(bound), 700);
  } else if (event.key === "Delete" || event.key === "Backspace") {
    send({ do: "join", bound: index(bound) });
  } else if (event.key === "Enter") {
    send({ do: "split", at: song.now() });
  } else if (event.key === "Escape") {
    clearTimeout(waiting);
    letGo(bound);
    attach();
  } else return;
  event.preventDefault();
});
document.addEventListener("focusout", (event) => {
  const bound = event.target.closest?.(".bound");
  if (bound && bound !== dragged && bound.dataset.to !== undefined) drop(bound);
});

attach();
document.addEventListener("htmx:after:swap", attach);
