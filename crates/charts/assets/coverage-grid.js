// <coverage-grid>: planned bars of a setup drawn and erased, by hand or by keys.
//
// It improves the drawing inside it into a grid of rows and cells. A drag along a row draws from the first bar
// to the last, or erases when it begins on a planned one; Shift with arrows and then Space do the same. Either
// sends `paint` with {setup, first_bar, last_bar, on}. Escape leaves everything as it was.

class CoverageGrid extends HTMLElement {
  connectedCallback() {
    this.grid = this.querySelector("svg .grid");
    if (!this.grid || this.says) return;
    this.svg = this.grid.ownerSVGElement;
    this.svg.setAttribute("role", "group");
    this.grid.setAttribute("role", "grid");
    this.grid.setAttribute("aria-label", this.svg.getAttribute("aria-label") ?? "");
    this.rows = [];
    for (const row of this.grid.querySelectorAll(".row")) {
      row.setAttribute("role", "row");
      const cells = [...row.querySelectorAll("[data-bar]")];
      row.querySelector(".cells").classList.add("live");
      for (const cell of cells) {
        cell.setAttribute("role", "gridcell");
        cell.setAttribute("tabindex", "-1");
        this.name(cell, row);
      }
      this.rows.push(cells);
    }
    // One cell takes the Tab key; arrows go on from there.
    this.rows[0]?.[0]?.setAttribute("tabindex", "0");
    this.says = this.appendChild(document.createElement("p"));
    this.says.className = "unseen";
    this.says.setAttribute("aria-live", "polite");
    this.hint = this.appendChild(document.createElement("p"));
    this.hint.className = "hint";
    this.hint.textContent = "Drag along a row to plan its bars, or to clear them from a planned one; with keys, hold Shift with the arrows, then press Space.";
    for (const type of CoverageGrid.heard) this.addEventListener(type, this);
  }

  static heard = ["pointerdown", "pointermove", "pointerup", "pointercancel", "keydown", "focusin"];

  disconnectedCallback() {
    this.clear();
    for (const type of CoverageGrid.heard) this.removeEventListener(type, this);
    this.says?.remove();
    this.hint?.remove();
    this.says = undefined;
  }

  handleEvent(event) {
    const on = { pointerdown: "press", pointermove: "drag", pointerup: "drop", pointercancel: "clear", keydown: "key", focusin: "focused" };
    this[on[event.type]](event);
  }

  setup(cell) {
    return cell.closest("[data-setup]").dataset.setup;
  }

  name(cell, row = cell.closest(".row")) {
    const planned = "on" in cell.dataset ? "planned" : "not planned";
    cell.setAttribute("aria-label", `${row.getAttribute("aria-label")}, bar ${cell.dataset.bar}, ${planned}`);
  }

  /** All cells of a setup in the order of the song, over every system. */
  line(setup) {
    return this.rows.flat().filter((cell) => this.setup(cell) === setup);
  }

  press(event) {
    const cell = event.target.closest("[data-bar]");
    if (!cell || !event.isPrimary || event.button !== 0) return;
    this.begin(cell);
    this.pointer = event.pointerId;
    this.svg.setPointerCapture(event.pointerId);
    cell.focus({ preventScroll: true });
    this.show(cell);
    event.preventDefault();
  }

  drag(event) {
    if (!this.from || event.pointerId !== this.pointer) return;
    const under = document.elementFromPoint(event.clientX, event.clientY)?.closest?.("[data-bar]");
    // Above and below its row a drag goes on along the row.
    const setup = this.setup(this.from);
    if (under && this.contains(under) && this.setup(under) === setup) {
      this.show(under);
      return;
    }
    const row = this.to.closest(".row");
    const near = [...row.querySelectorAll("[data-bar]")].find((cell) => {
      const box = cell.getBoundingClientRect();
      return event.clientX >= box.left && event.clientX < box.right;
    });
    if (near) this.show(near);
  }

  drop(event) {
    if (this.from && event.pointerId === this.pointer) this.paint();
  }

  key(event) {
    const cell = event.target.closest?.("[data-bar]");
    if (event.key === "Escape" && this.from) {
      event.preventDefault();
      this.clear();
      this.says.textContent = "left as it was";
      return;
    }
    if (!cell || event.altKey || event.ctrlKey || event.metaKey) return;
    if (event.key === " ") {
      event.preventDefault();
      if (!this.from) {
        this.begin(cell);
        this.show(cell);
      }
      this.paint();
      return;
    }
    const next = this.beside(cell, event.key);
    if (!next) return;
    event.preventDefault();
    if (event.shiftKey && this.setup(next) === this.setup(cell)) {
      if (!this.from) this.begin(cell);
      this.show(next);
    } else {
      this.clear();
    }
    next.focus();
  }

  /** The cell that an arrow, Home or End leads to. */
  beside(cell, key) {
    const line = this.line(this.setup(cell));
    const at = line.indexOf(cell);
    const way = { ArrowRight: at + 1, ArrowLeft: at - 1, Home: 0, End: line.length - 1 }[key];
    if (way !== undefined) return line[way];
    const step = { ArrowDown: 1, ArrowUp: -1 }[key];
    if (!step) return undefined;
    const row = this.rows.findIndex((cells) => cells.includes(cell));
    const next = this.rows[row + step];
    return next?.[Math.min(this.rows[row].indexOf(cell), next.length - 1)];
  }

  focused(event) {
    const cell = event.target.closest("[data-bar]");
    if (!cell) return;
    for (const other of this.rows.flat()) other.setAttribute("tabindex", other === cell ? "0" : "-1");
  }

  begin(cell) {
    this.clear();
    this.from = cell;
    this.to = cell;
    this.on = !("on" in cell.dataset);
  }

  /** Shows what would be drawn or erased up to `cell`. */
  show(cell) {
    this.to = cell;
    const touched = new Set(this.span());
    for (const other of this.line(this.setup(this.from))) {
      other.classList.toggle("draw", touched.has(other) && this.on);
      other.classList.toggle("erase", touched.has(other) && !this.on);
    }
    const [first, last] = this.ends();
    this.says.textContent = `${this.on ? "plan" : "clear"} bars ${first} to ${last}`;
  }

  span() {
    const line = this.line(this.setup(this.from));
    const [a, b] = [line.indexOf(this.from), line.indexOf(this.to)].sort((x, y) => x - y);
    return line.slice(a, b + 1);
  }

  ends() {
    const cells = this.span();
    return [Number(cells[0].dataset.bar), Number(cells[cells.length - 1].dataset.bar)];
  }

  paint() {
    const { on } = this;
    const setup = this.setup(this.from);
    const [first_bar, last_bar] = this.ends();
    const cells = this.span();
    this.clear();
    // The page draws it anew; until then the cells keep what was asked.
    for (const cell of cells) {
      cell.classList.add(on ? "draw" : "erase");
      if (on) cell.dataset.on = "";
      else delete cell.dataset.on;
      this.name(cell);
    }
    this.says.textContent = `bars ${first_bar} to ${last_bar} ${on ? "planned" : "cleared"}`;
    this.dispatchEvent(new CustomEvent("paint", { bubbles: true, detail: { setup, first_bar, last_bar, on } }));
  }

  clear() {
    for (const cell of this.from ? this.line(this.setup(this.from)) : []) cell.classList.remove("draw", "erase");
    this.from = null;
    this.to = null;
  }
}

customElements.define("coverage-grid", CoverageGrid);
