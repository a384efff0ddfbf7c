// The song's clock: what plays where, and the ruler of beats, bars and sections. The sound stands outside
// the part of the page that is swapped, so it plays on from page to page.

/** The sound. */
const sound = () => document.getElementById("song-sound");

let ruler = null;
let read = "";
const ticks = new Set();
let frame = 0;

/** Reads the ruler of the page that is shown; tells whoever listens when it is another. */
export function readMap() {
  const text = document.getElementById("song-map")?.textContent || "";
  if (text === read) return;
  read = text;
  ruler = text ? JSON.parse(text) : null;
  const audio = sound();
  if (audio && ruler && audio.dataset.file !== ruler.file) {
    // Another song, or the first: only then is it loaded.
    audio.dataset.file = ruler.file;
    audio.src = `/media/song?of=${ruler.file.slice(0, 12)}`;
  }
  if (audio && !ruler && audio.dataset.file) {
    delete audio.dataset.file;
    audio.removeAttribute("src");
    audio.load();
  }
  tell();
}

/** The ruler: `length`, `tempo`, `beatsPerBar`, `beats`, `bars` as [number, start], `sections`; null without a song. */
export const map = () => ruler;

/** Where the song is, seconds. */
export const now = () => sound()?.currentTime || 0;

/** Whether it plays. */
export const isPlaying = () => Boolean(sound() && !sound().paused && !sound().ended);

/** Plays, from `from` seconds if that is said. */
export async function play(from) {
  const audio = sound();
  if (!audio || !ruler) return;
  if (from !== undefined) audio.currentTime = held(from);
  else if (audio.ended) audio.currentTime = 0;
  try {
    await audio.play();
  } catch (error) {
    // Stopped again before it began is no trouble.
    if (error.name !== "AbortError") document.dispatchEvent(new CustomEvent("barebulb:silent"));
  }
}

/** Stops where it is. */
export const pause = () => sound()?.pause();

/** Goes to `to` seconds, playing on if it plays. */
export function seek(to) {
  const audio = sound();
  if (!audio || !ruler) return;
  audio.currentTime = held(to);
  tell();
}

/** Plays or stops. */
export const toggle = () => (isPlaying() ? pause() : play());

const held = (seconds) => Math.max(0, Math.min(seconds, (ruler?.length || 0) - 0.01));

/** Calls `fn(seconds, playing)` with every picture while it plays, and whenever it starts, stops or jumps. Gives what ends it. */
export function onTick(fn) {
  ticks.add(fn);
  return () => ticks.delete(fn);
}

function tell() {
  const at = now();
  const playing = isPlaying();
  for (const fn of ticks) fn(at, playing);
}

function run() {
  cancelAnimationFrame(frame);
  tell();
  if (isPlaying()) frame = requestAnimationFrame(run);
}

/** The index of the last of `list` that is not after `seconds`; 0 when all are. */
function indexAt(list, seconds, start = (one) => one) {
  let low = 0;
  let high = list.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (start(list[middle]) <= seconds + 1e-6) low = middle + 1;
    else high = middle;
  }
  return Math.max(0, low - 1);
}

/** The index of the bar at `seconds`. */
export const barIndex = (seconds) => indexAt(ruler.bars, seconds, (bar) => bar[1]);

/** The index of the section at `seconds`. */
export const sectionIndex = (seconds) => indexAt(ruler.sections, seconds, (section) => section.from);

/** Where bar `index` starts, seconds; the end of the song after the last. */
export const barStart = (index) => (index < ruler.bars.length ? ruler.bars[Math.max(0, index)][1] : ruler.length);

/** Bar, beat and section at `seconds`, counted as a musician does. */
export function address(seconds) {
  const bar = barIndex(seconds);
  const start = barStart(bar);
  const last = indexAt(ruler.beats, seconds);
  let first = indexAt(ruler.beats, start);
  if (ruler.beats[first] < start - 1e-6) first += 1;
  return { bar: ruler.bars[bar][0], beat: Math.max(1, last - first + 1), section: ruler.sections[sectionIndex(seconds)] };
}

const nearest = (list, seconds) => {
  const index = indexAt(list, seconds);
  const [a, b] = [list[index], list[Math.min(index + 1, list.length - 1)]];
  return Math.abs(b - seconds) < Math.abs(a - seconds) ? b : a;
};

/** The beat nearest to `seconds`. */
export const nearestBeat = (seconds) => nearest(ruler.beats, seconds);

/** The start of a bar nearest to `seconds`. */
export const nearestBar = (seconds) => nearest(ruler.bars.map((bar) => bar[1]), seconds);

/** The beat `by` beats on from `seconds`; from between two beats the next one that way. */
export function beatFrom(seconds, by) {
  const index = indexAt(ruler.beats, seconds);
  const between = by < 0 && seconds - ruler.beats[index] > 0.02;
  return ruler.beats[Math.max(0, Math.min(ruler.beats.length - 1, index + by + (between ? 1 : 0)))];
}

/** The start of the bar `by` bars on from `seconds`; from inside a bar back to its own start first. */
export function barFrom(seconds, by) {
  const index = barIndex(seconds);
  const between = by < 0 && seconds - barStart(index) > 0.02;
  return barStart(Math.max(0, Math.min(ruler.bars.length - 1, index + by + (between ? 1 : 0))));
}

/** Minutes, seconds and tenths: `0:41.2`. */
export function clock(seconds) {
  const tenths = Math.floor(seconds * 10 + 1e-6);
  return `${Math.floor(tenths / 600)}:${String(Math.floor(tenths / 10) % 60).padStart(2, "0")}.${tenths % 10}`;
}

/** `bar 12 beat 3, chorus 1, 0:41.2` */
export function inWords(seconds) {
  const { bar, beat, section } = address(seconds);
  return `bar ${bar} beat ${beat}, ${section.words}, ${clock(seconds)}`;
}

/** The song's time when `event` happened: the picture may be a few milliseconds further by now. */
export function at(event) {
  const late = isPlaying() ? Math.max(0, Math.min(0.2, (performance.now() - event.timeStamp) / 1000)) : 0;
  return Math.max(0, now() - late);
}

/** Whether a key pressed at `event` is typing, or meant for what has the focus. */
export function isTyping(event) {
  const element = event.target;
  if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing || event.defaultPrevented) return true;
  if (element.isContentEditable) return true;
  if (element.matches?.("input[type=checkbox], input[type=radio]")) return event.key === " ";
  return Boolean(element.closest?.("input, textarea, select, dialog[open]"));
}

if (sound()) {
  for (const name of ["play", "pause", "seeked", "ended", "loadedmetadata"]) sound().addEventListener(name, run);
  sound().addEventListener("error", () => sound().dataset.file && document.dispatchEvent(new CustomEvent("barebulb:silent")));
}
readMap();
document.addEventListener("htmx:after:swap", readMap);
