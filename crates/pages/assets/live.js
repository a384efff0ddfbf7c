// Listens to what happens to the project and shows the page anew, but never over something half typed.

const htmx = window.htmx;
let waiting = false;

/** The token every change carries. */
export const token = () => document.body.dataset.token;

/** Posts `value` as JSON; gives the answer's JSON, or throws the sentence it was refused with. */
export async function post(path, value) {
  const response = await fetch(path, {
    method: "POST",
    headers: { "content-type": "application/json", "x-barebulb-token": token() },
    body: JSON.stringify(value),
  });
  if (!response.ok) throw new Error(await sentence(response));
  const text = await response.text();
  return text ? JSON.parse(text) : null;
}

/** The sentence a refused request was answered with. */
async function sentence(response) {
  const page = new DOMParser().parseFromString(await response.text(), "text/html");
  return page.querySelector(".refused p, .faults")?.textContent?.trim() || `That did not work (${response.status}).`;
}

/** Tells the person one sentence, at the corner of the page. */
export function tell(text) {
  document.querySelector(".changed")?.remove();
  const note = document.createElement("p");
  note.className = "changed";
  note.setAttribute("role", "alert");
  note.textContent = text;
  document.body.append(note);
  setTimeout(() => note.remove(), 9000);
}

/** Whether something on the page is being typed or dragged, and would be lost. */
const busy = () => document.querySelector("form[data-dirty], [data-busy]") !== null;

/** Shows the page anew, at once or as soon as nothing is half typed. */
export async function refresh() {
  if (busy()) {
    if (!waiting) tell("This project was changed elsewhere. Save what you typed, and you will see it; nothing is lost.");
    waiting = true;
    return;
  }
  waiting = false;
  // What is waited for here is a page of its own.
  if (document.querySelector("main [data-becomes]")) {
    location.reload();
    return;
  }
  const path = location.pathname + location.search;
  await htmx.ajax("GET", path, { target: "#frame", select: "#frame", swap: "outerMorph", renews: { path, after: swaps } });
}

// A page asked for anew that comes late is not shown: over another page, over a newer state of this one, or over
// what was begun to be typed meanwhile.
let swaps = 0;
document.addEventListener("htmx:before:swap", (event) => {
  const { renews } = event.detail.ctx;
  if (!renews) return;
  const here = location.pathname + location.search;
  if (renews.path !== here || renews.after !== swaps || busy()) {
    event.preventDefault();
    refreshSoon();
  }
});
document.addEventListener("htmx:after:swap", () => swaps++);

let soon = 0;
function refreshSoon() {
  clearTimeout(soon);
  soon = setTimeout(refresh, 60);
}

function listen() {
  const source = new EventSource("/events");
  const here = () => document.querySelector("main")?.dataset.revision;
  source.addEventListener("changed", (event) => {
    if (event.data !== here()) refreshSoon();
  });
  source.addEventListener("computed", refreshSoon);
  source.addEventListener("devices", () => location.pathname === "/devices" && refreshSoon());
  source.addEventListener("work", () => document.body.dispatchEvent(new CustomEvent("barebulb:work")));
  addEventListener("pagehide", () => source.close());
}

// What is typed is marked, so that a change from elsewhere waits for it.
document.addEventListener("input", (event) => {
  const form = event.target.closest?.("form[data-guarded]");
  if (form) form.dataset.dirty = "";
});
document.addEventListener("submit", (event) => delete event.target.dataset?.dirty, true);
addEventListener("beforeunload", (event) => document.querySelector("form[data-dirty]") && event.preventDefault());
document.addEventListener("htmx:after:swap", () => {
  // Forms that nobody types in show what the page now says, not what was sent before.
  for (const form of document.querySelectorAll("main form[data-guarded]:not([data-dirty])")) form.reset();
  const faults = document.querySelector(".faults");
  if (faults) {
    faults.focus();
    // What was typed and refused must not be lost to a change from elsewhere.
    const form = faults.closest("form[data-guarded]");
    if (form) form.dataset.dirty = "";
  }
  if (waiting && !busy()) refreshSoon();
});

if (document.body.dataset.token) listen();
