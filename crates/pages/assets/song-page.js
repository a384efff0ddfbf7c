// The page Song: from the playhead, ideas while listening, tapping along.
import * as song from "./song-clock.js";
import { post, tell } from "./live.js";

/** Seconds as they are typed: `0:41.250000`. */
const typed = (seconds) => {
  const minutes = Math.floor(seconds / 60);
  return `${minutes}:${(seconds - minutes * 60).toFixed(9).padStart(12, "0")}`;
};

const OFF = "single-keys-off";

/** Whether a letter alone may be a key: who speaks to the computer, or presses keys by mistake, turns that off. */
const lettersAreKeys = () => localStorage.getItem(OFF) === null;

/** The choice of that, kept in this browser. */
class SingleKeys extends HTMLElement {
  connectedCallback() {
    const box = this.querySelector("input");
    box.checked = lettersAreKeys();
    box.onchange = () => (box.checked ? localStorage.removeItem(OFF) : localStorage.setItem(OFF, ""));
  }
}
customElements.define("single-keys", SingleKeys);

/** A field that takes the beat nearest to the playhead. */
class FromHere extends HTMLElement {
  constructor() {
    super();
    this.addEventListener("click", (event) => {
      if (!event.target.closest("[data-here]") || !song.map()) return;
      this.querySelector("input[name=at]").value = typed(song.nearestBeat(song.at(event)));
      this.querySelector("form").requestSubmit();
    });
  }
}
customElements.define("from-here", FromHere);

/** An idea, pinned to the bar that plays. */
class NoteHere extends HTMLElement {
  constructor() {
    super();
    this.key = (event) => {
      if (event.key.toLowerCase() !== "n" || !lettersAreKeys() || event.repeat || song.isTyping(event)) return;
      event.preventDefault();
      this.pin(song.at(event));
    };
    this.addEventListener("click", (event) => event.target.closest("[data-note]") && this.pin(song.at(event)));
  }

  connectedCallback() {
    document.addEventListener("keydown", this.key);
  }

  disconnectedCallback() {
    document.removeEventListener("keydown", this.key);
  }

  /** Notes the bar at `seconds` and opens the field. */
  pin(seconds) {
    if (!song.map()) return;
    const form = this.querySelector("form");
    form.elements.at.value = String(song.address(seconds).bar);
    form.dataset.dirty = "";
    form.elements.text.focus();
    this.scrollIntoView({ block: "nearest" });
  }
}
customElements.define("note-here", NoteHere);

/** Beats tapped along, sent when one stops tapping. */
class TapAlong extends HTMLElement {
  constructor() {
    super();
    this.taps = [];
    this.key = (event) => {
      if (event.key.toLowerCase() !== "t" || !lettersAreKeys() || event.repeat || song.isTyping(event) || !song.isPlaying()) return;
      event.preventDefault();
      this.tap(song.at(event));
    };
    // The moment of pressing counts, not of letting go.
    this.addEventListener("pointerdown", (event) => event.target.closest("[data-tap]") && this.press(event));
    this.addEventListener("click", (event) => event.detail === 0 && event.target.closest("[data-tap]") && this.press(event));
  }

  connectedCallback() {
    document.addEventListener("keydown", this.key);
  }

  disconnectedCallback() {
    document.removeEventListener("keydown", this.key);
    this.send();
  }

  press(event) {
    if (!song.isPlaying()) {
      this.say("Play the song first, then tap its beats.");
      return;
    }
    this.tap(song.at(event));
  }

  tap(seconds) {
    this.taps.push(seconds);
    this.dataset.busy = "";
    const gaps = this.taps.slice(1).map((at, nth) => at - this.taps[nth]).filter((gap) => gap > 0.1).sort((a, b) => a - b);
    const middle = gaps[gaps.length >> 1];
    this.say(middle ? `${this.taps.length} beats, ${(60 / middle).toFixed(1)} a minute` : "1 beat");
    clearTimeout(this.soon);
    this.soon = setTimeout(() => this.send(), 2500);
  }

  say(text) {
    const says = this.querySelector("[data-says]");
    if (says) says.textContent = text;
  }

  async send() {
    clearTimeout(this.soon);
    const at = this.taps;
    this.taps = [];
    delete this.dataset.busy;
    if (!at.length) return;
    try {
      await post("/song/taps", { at });
      tell(`${at.length === 1 ? "One beat was" : `${at.length} beats were`} taken over. Undo is at the foot of the page.`);
    } catch (error) {
      tell(error.message);
    }
  }
}
customElements.define("tap-along", TapAlong);
