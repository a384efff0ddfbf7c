// Dates, times and numbers in the reader's own form, over markup that holds the plain ones.

const day = new Intl.DateTimeFormat(undefined, { weekday: "short", day: "numeric", month: "long", year: "numeric", timeZone: "UTC" });
const moment = new Intl.DateTimeFormat(undefined, { dateStyle: "medium", timeStyle: "short" });

/** A number as the reader writes it, with as many decimals as it came with. */
export function number(text) {
  const decimals = (text.split(".")[1] || "").length;
  return Number(text).toLocaleString(undefined, { minimumFractionDigits: decimals, maximumFractionDigits: decimals });
}

/** Rewrites what is inside `root`, once each. */
export function localise(root) {
  for (const time of root.querySelectorAll("time:not([data-own])")) {
    const ms = Number(time.dataset.ms);
    if (ms) {
      time.dateTime = new Date(ms).toISOString();
      time.textContent = moment.format(new Date(ms));
    } else if (/^\d{4}-\d\d-\d\d$/.test(time.dateTime)) {
      time.textContent = day.format(new Date(`${time.dateTime}T00:00:00Z`));
    }
    time.dataset.own = "";
  }
  for (const value of root.querySelectorAll("data[value]:not([data-own])")) {
    const { currency } = value.dataset;
    if (currency) {
      try {
        value.textContent = Number(value.value).toLocaleString(undefined, { style: "currency", currency });
      } catch {
        // A currency the browser does not know stays as it was written.
      }
    } else if (/^-?\d+(\.\d+)?$/.test(value.value)) {
      value.textContent = number(value.value);
    }
    value.dataset.own = "";
  }
}

/** Tables wider than their place can be scrolled by keys too. */
export function reach(root) {
  for (const table of root.querySelectorAll("main table")) {
    if (table.scrollWidth > table.clientWidth + 1) table.tabIndex = 0;
    else if (table.getAttribute("tabindex") === "0") table.removeAttribute("tabindex");
  }
}
