// When the page is shown anew, folded parts stay as they were folded, and what had the focus keeps it.

const folded = new Map();
const name = (details) => details.dataset.fold || details.querySelector("summary")?.textContent?.trim();

document.addEventListener("toggle", (event) => {
  if (event.target.tagName === "DETAILS") folded.set(location.pathname + name(event.target), event.target.open);
}, true);
document.addEventListener("htmx:after:swap", () => {
  for (const details of document.querySelectorAll("main details")) {
    const was = folded.get(location.pathname + name(details));
    if (was !== undefined && details.open !== was) details.open = was;
  }
});

let focused = "";
document.addEventListener("htmx:before:swap", () => {
  focused = document.activeElement?.closest?.("#frame [id]")?.id || "";
});
document.addEventListener("htmx:after:swap", () => {
  if (focused && document.activeElement === document.body) document.getElementById(focused)?.focus({ preventScroll: true });
});
