// Timing the lyrics: while the song plays, one press where each line starts.
import * as song from "./song-clock.js";
import { post, refresh, tell } from "./live.js";

/** The lines one after the other, large, with a button for the thumb. */
class TimeLines extends HTMLElement {
  constructor() {
    super();
    this.addEventListener("click", (event) => {
      const does = event.target.closest("[data-does]")?.dataset.does;
      if (does && !(does === "mark" && event.detail > 0)) this[does](event);
    });
    // The moment of pressing counts, not of letting go.
    this.addEventListener("pointerdown", (event) => event.target.closest("[data-does=mark]") && this.mark(event));
    this.key = (event) => {
      if (!this.marks || song.isTyping(event)) return;
      if (event.target.closest?.("button, a, summary") && !event.target.matches("[data-does=mark]")) return;
      const does = { Enter: "mark", Backspace: "undo", Escape: "leave" }[event.key];
      if (!does || event.repeat) return;
      event.preventDefault();
      this[does](event);
    };
  }

  connectedCallback() {
    document.addEventListener("keydown", this.key);
  }

  disconnectedCallback() {
    document.removeEventListener("keydown", this.key);
  }

  part(name) {
    return this.querySelector(`[data-part=${name}]`);
  }

  /** Begins at the first line without a time, or anew when all have one. */
  begin() {
    this.lines = JSON.parse(this.dataset.lines);
    this.revision = Number(this.dataset.revision);
    const first = this.lines.findIndex((line) => !line.at);
    this.first = Math.max(0, first);
    // Each mark is a start, or the end of the line before it.
    this.marks = [];
    this.dataset.busy = "";
    this.part("timing").hidden = false;
    this.querySelector("[data-does=begin]").hidden = true;
    const before = this.first > 0 ? this.lines[this.first - 1].at : null;
    song.play(before ? Math.max(0, before[1] - 3) : 0);
    this.querySelector("[data-does=mark]").focus();
    this.draw();
  }

  started() {
    return this.marks.filter((mark) => mark.start).length;
  }

  draw() {
    const nth = this.first + this.started();
    const line = this.lines[nth];
    const sung = this.marks.at(-1)?.start ? this.lines[nth - 1].text : "";
    this.part("count").textContent = line ? `Line ${nth + 1} of ${this.lines.length}${sung ? `; now: ${sung}` : ""}` : "All lines have started. Press once more where the last one ends, or save.";
    this.part("line").textContent = line ? line.text : sung;
    this.part("next").textContent = this.lines[nth + 1] ? `Then: ${this.lines[nth + 1].text}` : "";
    this.querySelector("[data-does=mark]").textContent = line ? "It starts now" : "It ends now";
  }

  mark(event) {
    if (this.first + this.started() >= this.lines.length) {
      this.end(event);
      return;
    }
    this.put(event, true);
  }

  /** Notes a mark, which must come after the one before it. */
  put(event, start) {
    const at = song.at(event);
    if (this.marks.length && at < this.marks.at(-1).at + 0.05) {
      this.part("count").textContent = "The line before started later than this: play on to there, or take it back.";
      return;
    }
    this.marks.push({ at, start });
    this.draw();
  }

  /** Ends the line that is sung before the next one starts. */
  end(event) {
    if (this.marks.at(-1)?.start) this.put(event, false);
  }

  /** Takes the last mark back and plays from a little before it. */
  undo() {
    const last = this.marks.pop();
    if (last) song.play(Math.max(0, last.at - 3));
    this.draw();
  }

  leave() {
    this.marks = null;
    delete this.dataset.busy;
    this.part("timing").hidden = true;
    const begin = this.querySelector("[data-does=begin]");
    begin.hidden = false;
    begin.focus();
  }

  /** The times by line: a start lasts to the next mark, the last one to a bar later. */
  times() {
    const times = {};
    let nth = this.first - 1;
    this.marks.forEach((mark, index) => {
      if (!mark.start) return;
      nth += 1;
      const next = this.marks[index + 1]?.at ?? Math.min(song.map().length, song.barFrom(mark.at, 2));
      if (next > mark.at) times[nth] = [mark.at, next];
    });
    return times;
  }

  async save() {
    const times = this.times();
    const { revision } = this;
    try {
      if (Object.keys(times).length) await post("/song/lyrics/tapped", { revision, times });
      song.pause();
      this.leave();
      await refresh();
    } catch (error) {
      tell(error.message);
    }
  }
}
customElements.define("time-lines", TimeLines);
