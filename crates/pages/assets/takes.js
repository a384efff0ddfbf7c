// Takes: rated by keys, and watched under the song.
import * as clock from "./player-clock.js";
import { Shots } from "./shots.js";
import { tell, token } from "./live.js";

const RATINGS = { 1: "circled", 2: "usable", 3: "no-good", 0: "unrated" };
let playing = null;

/** What is known of one take. */
function known(id) {
  const data = JSON.parse(document.getElementById("take-data")?.textContent || "{}");
  return { ...data, take: data.takes?.[id] };
}

/** `<take-card>`: one take. */
class TakeCard extends HTMLElement {
  connectedCallback() {
    if (this.listening) return;
    this.listening = true;
    this.addEventListener("keydown", (event) => this.key(event));
    this.addEventListener("click", (event) => event.target.closest(".look") && this.toggle());
    this.offer();
    this.again = () => {
      this.offer();
      if (playing === this) {
        this.dataset.playing = "";
        this.name();
      }
    };
    document.addEventListener("htmx:after:swap", this.again);
  }

  disconnectedCallback() {
    document.removeEventListener("htmx:after:swap", this.again);
    this.listening = false;
    if (playing === this) this.stop();
  }

  /** The button that plays it, put there by script because it needs it. */
  offer() {
    const media = known(this.dataset.take).take?.media;
    const look = this.querySelector(".look");
    if (!media?.picture || !look || look.querySelector("button")) return;
    const button = document.createElement("button");
    button.type = "button";
    button.className = "watch";
    look.append(button);
    this.name();
  }

  /** What the button does now. */
  name() {
    const button = this.querySelector(".watch");
    if (!button) return;
    const on = playing === this;
    button.innerHTML = `<span aria-hidden="true">${on ? "■" : "▶"}</span><span class="unseen">${on ? "Stop" : "Play"} ${this.dataset.take} under the song</span>`;
  }

  key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey || event.target.closest("input, select, textarea, summary, a")) return;
    const all = [...document.querySelectorAll("take-card")];
    const beside = (by) => all[all.indexOf(this) + by]?.focus();
    const own = event.target === this || event.target.closest(".look");
    const does = {
      ArrowUp: () => beside(-1),
      ArrowDown: () => beside(1),
      Enter: own && (() => this.toggle()),
    }[event.key] || (event.key in RATINGS && (() => this.rate(RATINGS[event.key])));
    if (!does) return;
    event.preventDefault();
    does();
  }

  /** Rates it; the page hears of the change and shows it. */
  async rate(rating) {
    const body = new URLSearchParams({ token: token(), take: this.dataset.take, rating });
    const response = await fetch("/takes/rate", { method: "POST", headers: { "hx-request": "true" }, body }).catch(() => null);
    if (!response?.ok) {
      tell("The rating could not be saved; try again.");
      return;
    }
    for (const button of this.querySelectorAll(".marks button")) button.setAttribute("aria-pressed", String(button.value === rating));
  }

  toggle() {
    if (playing === this) this.stop();
    else this.play();
  }

  stop() {
    if (this.shots) clock.pause();
    clock.sound()?.removeEventListener("pause", this.ended);
    this.shots?.end();
    this.shots = null;
    this.querySelector(".screen")?.replaceChildren();
    delete this.dataset.playing;
    playing = null;
    this.name();
  }

  /** Plays its picture under the song where it was heard; without the song in it, with its own sound. */
  async play() {
    playing?.stop();
    const { take, rate, length } = known(this.dataset.take);
    if (!take?.media?.picture) return;
    playing = this;
    this.dataset.playing = "";
    this.name();
    const screen = this.querySelector(".screen");
    if (!take.runs.length) {
      const video = document.createElement("video");
      video.controls = true;
      video.src = take.media.copy || take.media.file;
      screen.replaceChildren(video);
      video.addEventListener("error", () => {
        this.stop();
        tell(`This browser does not play ${this.dataset.take}: a copy to watch is being made. Play it again once it is there.`);
        const body = new URLSearchParams({ token: token() });
        fetch(take.media.ask, { method: "POST", headers: { "hx-request": "true" }, body });
      });
      video.play().catch(() => {});
      return;
    }
    const card = document.createElement("p");
    card.className = "no-picture";
    card.hidden = true;
    screen.replaceChildren(card);
    this.shots = new Shots(screen, card);
    const fps = rate[0] / rate[1];
    const shots = [];
    let at = 0;
    const black = (to) => to > at && (shots.push({ from: at, to, take: null, start: 0, speed: 1 }), (at = to));
    for (const run of [...take.runs].sort((a, b) => a.song - b.song)) {
      const from = Math.max(at, Math.ceil(run.song * fps));
      const to = Math.min(Math.floor((run.song + (run.end - run.take) * run.speed) * fps), Math.ceil(length * fps));
      if (to <= from) continue;
      black(from);
      shots.push({ from, to, take: this.dataset.take, start: run.take + (from / fps - run.song) / run.speed, speed: run.speed });
      at = to;
    }
    black(Math.ceil(length * fps));
    this.shots.load({ rate, shots, takes: { [this.dataset.take]: take.media } });
    const first = shots.find((shot) => shot.take);
    const begin = (first?.from || 0) / fps;
    clock.standAt(begin);
    await this.shots.prepare(begin);
    this.ended = () => playing === this && clock.sound()?.ended && this.stop();
    clock.sound()?.addEventListener("pause", this.ended);
    await clock.play();
  }
}
customElements.define("take-card", TakeCard);
