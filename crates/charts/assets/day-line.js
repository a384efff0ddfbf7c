// <day-line>: the strips of a day's time line, moved by hand or by keys.
//
// It improves the drawing inside it: each `.strip` there carries its setup and times as data. Moving one shows
// a ghost at the new time; letting go, or Enter, sends `pin` with {setup, minutes}: the minute after the day's
// midnight at which the shoot is to begin. Escape leaves everything as it was. What follows is the page's.

const STEP = 5;
const SVG = "http://www.w3.org/2000/svg";

/** `02:30` for minute 1590. */
const clock = (minutes) => {
  const m = ((minutes % 1440) + 1440) % 1440;
  return `${String(Math.floor(m / 60)).padStart(2, "0")}:${String(m % 60).padStart(2, "0")}`;
};

class DayLine extends HTMLElement {
  connectedCallback() {
    this.day = this.querySelector("svg .day");
    if (!this.day || this.says) return;
    this.held = null;
    this.says = this.appendChild(document.createElement("p"));
    this.says.className = "unseen";
    this.says.setAttribute("aria-live", "polite");
    this.hint = this.appendChild(document.createElement("p"));
    this.hint.className = "hint";
    this.hint.textContent = "Drag a strip to another time; or choose it, move it with the arrow keys and press Enter. Escape leaves it where it was.";
    this.addEventListener("pointerdown", this);
    this.addEventListener("pointermove", this);
    this.addEventListener("pointerup", this);
    this.addEventListener("pointercancel", this);
    this.addEventListener("keydown", this);
    this.addEventListener("focusout", this);
  }

  disconnectedCallback() {
    this.leave();
    for (const type of ["pointerdown", "pointermove", "pointerup", "pointercancel", "keydown", "focusout"]) {
      this.removeEventListener(type, this);
    }
    this.says?.remove();
    this.hint?.remove();
    this.says = undefined;
  }

  handleEvent(event) {
    const on = { pointerdown: "press", pointermove: "drag", pointerup: "drop", pointercancel: "leave", keydown: "key", focusout: "blurred" };
    this[on[event.type]](event);
  }

  /** Pixels of the drawing for a pixel of the screen. */
  get zoom() {
    const shown = this.day.ownerSVGElement.getScreenCTM();
    return shown ? 1 / shown.a : 1;
  }

  get down() {
    return this.day.dataset.along === "y";
  }

  press(event) {
    const strip = event.target.closest(".strip");
    if (!strip || !event.isPrimary || event.button !== 0) return;
    // A finger that moves along the page scrolls it; a strip is dragged by it after it has rested a moment.
    this.begin(strip, this.down ? event.clientY : event.clientX);
    this.held.pointer = event.pointerId;
    this.held.armed = event.pointerType !== "touch";
    if (!this.held.armed) {
      this.held.wait = setTimeout(() => {
        if (this.held) {
          this.held.armed = true;
          strip.setPointerCapture(event.pointerId);
          this.move(0);
        }
      }, 300);
      this.still = (touch) => this.held?.armed && touch.preventDefault();
      this.addEventListener("touchmove", this.still, { passive: false });
    }
  }

  drag(event) {
    if (!this.held || this.held.pointer !== event.pointerId) return;
    const gone = ((this.down ? event.clientY : event.clientX) - this.held.from) * this.zoom;
    if (!this.held.armed) {
      if (Math.abs(gone) > 8) this.leave();
      return;
    }
    // A press with a trembling hand is no drag.
    if (!this.held.moved && Math.abs(gone) < 4) return;
    this.held.moved = true;
    this.held.strip.setPointerCapture(event.pointerId);
    this.move(gone / Number(this.day.dataset.scale));
  }

  drop(event) {
    if (!this.held || this.held.pointer !== event.pointerId) return;
    if (this.held.moved) this.pin();
    else this.leave();
  }

  key(event) {
    const strip = event.target.closest?.(".strip");
    if (event.key === "Escape" && this.held) {
      event.preventDefault();
      this.leave();
      this.says.textContent = "left where it was";
      return;
    }
    if (!strip || event.altKey || event.ctrlKey || event.metaKey) return;
    const way = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    if (way) {
      event.preventDefault();
      if (this.held?.strip !== strip) this.begin(strip, 0);
      const at = this.held.at;
      // The first step goes to the next whole five minutes.
      const next = way > 0 ? Math.floor(at / STEP) * STEP + STEP : Math.ceil(at / STEP) * STEP - STEP;
      this.move(next - this.held.shoot);
    } else if (event.key === "Enter" || event.key === " ") {
      event.preventDefault();
      if (this.held?.strip !== strip) this.begin(strip, 0);
      this.pin();
    }
  }

  blurred(event) {
    if (this.held && this.held.pointer === undefined && event.target === this.held.strip) this.leave();
  }

  begin(strip, from) {
    this.leave();
    const { start, shoot, end } = strip.dataset;
    this.held = { strip, from, start: Number(start), shoot: Number(shoot), end: Number(end), at: Number(shoot) };
  }

  /** Shows the held strip so many minutes from where it was. */
  move(minutes) {
    const held = this.held;
    const { from, to, origin, scale } = this.day.dataset;
    const least = Number(from) + (held.shoot - held.start);
    const most = Number(to) - (held.end - held.shoot);
    const wanted = Math.round((held.shoot + minutes) / STEP) * STEP;
    held.at = Math.max(Math.ceil(least / STEP) * STEP, Math.min(Math.floor(most / STEP) * STEP, wanted));
    const px = (minute) => Number(origin) + (minute - Number(from)) * Number(scale);
    const body = held.strip.querySelector(".outline");
    if (!held.ghost) {
      held.ghost = document.createElementNS(SVG, "g");
      held.box = held.ghost.appendChild(document.createElementNS(SVG, "rect"));
      held.box.setAttribute("class", "ghost-strip");
      held.clock = held.ghost.appendChild(document.createElementNS(SVG, "text"));
      held.clock.setAttribute("class", "halo ghost-clock");
      held.clock.setAttribute("font-size", "15");
      this.day.append(held.ghost);
      this.classList.add("dragging");
    }
    const moved = held.at - held.shoot;
    const [along, length, across, thick] = this.down ? ["y", "height", "x", "width"] : ["x", "width", "y", "height"];
    held.box.setAttribute(along, px(held.start + moved));
    held.box.setAttribute(length, px(held.end) - px(held.start));
    held.box.setAttribute(across, body.getAttribute(across));
    held.box.setAttribute(thick, body.getAttribute(thick));
    const at = Number(body.getAttribute(across));
    held.clock.setAttribute("x", this.down ? at + 8 : px(held.shoot + moved));
    held.clock.setAttribute("y", this.down ? Math.max(14, px(held.start + moved) - 5) : at - 4);
    held.clock.textContent = clock(held.at);
    this.says.textContent = `shoot at ${clock(held.at)}`;
  }

  pin() {
    const { strip, at } = this.held;
    this.leave();
    this.says.textContent = `pinned, shoot at ${clock(at)}`;
    this.dispatchEvent(new CustomEvent("pin", { bubbles: true, detail: { setup: strip.dataset.setup, minutes: at } }));
  }

  leave() {
    if (!this.held) return;
    clearTimeout(this.held.wait);
    this.held.ghost?.remove();
    this.held = null;
    this.classList.remove("dragging");
    if (this.still) this.removeEventListener("touchmove", this.still);
    this.still = undefined;
  }
}

customElements.define("day-line", DayLine);
