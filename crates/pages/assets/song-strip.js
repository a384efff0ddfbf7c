// The song strip: click, tap or keys play from there, and a line follows what plays.
import * as song from "./song-clock.js";
import { tell } from "./live.js";

const htmx = window.htmx;

/** The strip as it was drawn, made playable. */
class SongStrip extends HTMLElement {
  constructor() {
    super();
    this.addEventListener("click", (event) => this.click(event));
    this.addEventListener("keydown", (event) => this.key(event));
    this.addEventListener("focusin", (event) => event.target === this.dial && this.say(song.now()));
  }

  connectedCallback() {
    this.off = song.onTick((at, playing) => this.show(at, playing));
    this.attach();
  }

  disconnectedCallback() {
    this.off?.();
  }

  /** Gives the drawing its roles; a swap takes them away again. */
  attach() {
    song.readMap();
    this.dial = this.querySelector(".strip-dial");
    const map = song.map();
    if (!this.dial || !map) return;
    const set = (name, value) => this.dial.setAttribute(name, value);
    set("role", "slider");
    set("tabindex", "0");
    set("aria-label", "Where in the song");
    set("aria-valuemin", "0");
    set("aria-valuemax", map.length.toFixed(1));
    this.shown = "";
    this.say(song.now());
    this.show(song.now(), song.isPlaying());
  }

  /** Says where the song is to whoever has it read out: not with every picture. */
  say(at) {
    if (!song.map()) return;
    this.dial.setAttribute("aria-valuenow", at.toFixed(1));
    this.dial.setAttribute("aria-valuetext", song.inWords(at));
  }

  /** Draws where the song is. */
  show(at, playing) {
    const map = song.map();
    if (!map || !this.dial) return;
    const line = this.querySelector(".playhead");
    const x = `${((at / map.length) * 100).toFixed(3)}%`;
    line?.setAttribute("x1", x);
    line?.setAttribute("x2", x);
    const { bar, beat, section } = song.address(at);
    const part = (name, text) => {
      const element = this.querySelector(`.strip-at [data-is=${name}]`);
      if (element && element.textContent !== text) element.textContent = text;
    };
    part("bar", `${bar}.${beat}`);
    part("section", section.words);
    part("time", song.clock(at));
    const button = this.querySelector(".strip-play");
    if (button && this.shown !== String(playing)) {
      this.shown = String(playing);
      button.toggleAttribute("data-playing", playing);
      button.setAttribute("aria-label", playing ? "Pause the song" : "Play the song");
    }
    if (!playing) this.say(at);
  }

  click(event) {
    if (event.target.closest(".strip-play")) {
      song.toggle();
      return;
    }
    const link = event.target.closest("svg a");
    if (link) {
      // Links in a drawing are not taken over by themselves; the song plays on this way.
      if (event.ctrlKey || event.metaKey || event.shiftKey) return;
      event.preventDefault();
      const path = link.getAttribute("href");
      htmx.ajax("GET", path, { target: "#frame", select: "#frame", swap: "outerMorph", push: "true" });
      return;
    }
    const row = event.target.closest(".strip-dial, .strip-row, .strip-energy, .strip-bounds");
    if (!row || !song.map() || event.target.closest(".bound")) return;
    const box = this.dial.getBoundingClientRect();
    let at = ((event.clientX - box.left) / box.width) * song.map().length;
    if (event.shiftKey) at = song.barStart(song.barIndex(at));
    song.play(at);
  }

  key(event) {
    if (event.target !== this.dial || !song.map() || event.ctrlKey || event.metaKey || event.altKey) return;
    const at = song.now();
    const by = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1 }[event.key];
    const { sections } = song.map();
    const index = song.sectionIndex(at);
    let to;
    if (by) to = event.shiftKey ? song.barFrom(at, by) : song.beatFrom(at, by);
    else if (event.key === "Home") to = 0;
    else if (event.key === "End") to = song.map().length;
    else if (event.key === "PageDown") to = sections[Math.min(index + 1, sections.length - 1)].from;
    else if (event.key === "PageUp") to = sections[at - sections[index].from > 0.5 ? index : Math.max(0, index - 1)].from;
    else return;
    event.preventDefault();
    song.seek(to);
    this.say(to);
  }
}
customElements.define("song-strip", SongStrip);

document.addEventListener("keydown", (event) => {
  if (event.key !== " " || event.repeat || song.isTyping(event) || !song.map()) return;
  if (event.target.closest?.("button, summary, audio, video, [role=button]")) return;
  event.preventDefault();
  song.toggle();
});
document.addEventListener("click", (event) => {
  const from = event.target.closest?.("[data-play-from]")?.dataset.playFrom;
  if (from !== undefined) song.play(Number(from));
});
document.addEventListener("htmx:after:swap", () => document.querySelector("song-strip")?.attach?.());
document.addEventListener("barebulb:silent", () => tell("This browser can't play the song's file. Take in the same song as WAV, FLAC or MP3, and it plays; nothing else changes."));
