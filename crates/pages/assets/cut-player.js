// The assembly played in the page: picture, strip, and where one is in the list of shots.
import * as clock from "./player-clock.js";
import { Shots } from "./shots.js";

const SVG = "http://www.w3.org/2000/svg";

/** An element with attributes and children. */
function made(name, attributes = {}, ...children) {
  const element = name.startsWith("svg:") ? document.createElementNS(SVG, name.slice(4)) : document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  element.append(...children);
  return element;
}

/** Seconds as `1:02.3`. */
function time(seconds) {
  const tenths = Math.max(0, Math.floor(seconds * 10 + 1e-6));
  return `${Math.floor(tenths / 600)}:${String(Math.floor(tenths / 10) % 60).padStart(2, "0")}.${tenths % 10}`;
}

/** `<cut-player>`: plays what `#cut-data` says. */
class CutPlayer extends HTMLElement {
  connectedCallback() {
    if (this.shots) return;
    this.draw();
    this.shots = new Shots(this.active, this.card);
    this.shots.addEventListener("shot", (event) => this.mark(event.detail));
    this.shots.addEventListener("time", () => this.tell());
    this.swapped = () => this.read();
    document.addEventListener("htmx:after:swap", this.swapped);
    this.changed = () => this.buttons();
    for (const name of ["play", "pause", "ended"]) clock.sound()?.addEventListener(name, this.changed);
    this.read();
  }

  disconnectedCallback() {
    document.removeEventListener("htmx:after:swap", this.swapped);
    for (const name of ["play", "pause", "ended"]) clock.sound()?.removeEventListener(name, this.changed);
    this.shots?.end();
    this.shots = null;
    this.text = null;
  }

  draw() {
    this.active = made("div", { class: "active" });
    this.card = made("p", { class: "no-picture", hidden: "" });
    this.stage = made("div", { class: "stage" }, this.active);
    this.active.append(this.card);
    this.button = made("button", { type: "button", class: "play" }, "Play");
    this.button.addEventListener("click", () => this.toggle());
    this.full = made("button", { type: "button", class: "quiet full" }, "Fill the screen");
    this.full.addEventListener("click", () => (document.fullscreenElement ? document.exitFullscreen() : this.stage.requestFullscreen?.()));
    this.where = made("p", { class: "where" });
    this.showing = made("p", { class: "showing", "aria-live": "off" });
    this.strip = made("div", { class: "cut-strip", role: "slider", tabindex: "0", "aria-label": "Where in the song", "aria-valuemin": "0" });
    this.strip.addEventListener("pointerdown", (event) => this.point(event));
    this.addEventListener("keydown", (event) => this.key(event));
    const keys = made("details", { "data-fold": "player-keys" });
    keys.innerHTML = `<summary>Keys</summary><dl class="facts keys">
      <dt>Space</dt><dd>play, stop</dd>
      <dt>Left, right</dt><dd>a beat back, a beat on; with Shift a frame</dd>
      <dt>Up, down</dt><dd>a bar back, a bar on</dd>
      <dt>Page up, page down</dt><dd>to the shot before, to the next</dd>
      <dt>Home, end</dt><dd>to the beginning, to the end</dd>
      <dt>Enter</dt><dd>choose the shot that is shown</dd></dl>
      <p class="faint">They work while the player has the focus.</p>`;
    const bar = made("div", { class: "bar" }, this.button, this.where, this.showing, this.full);
    this.replaceChildren(this.stage, bar, this.strip, keys);
  }

  /** Reads what is to be played; the same again changes nothing. */
  read() {
    const text = document.getElementById("cut-data")?.textContent;
    if (!text) return;
    if (text !== this.text) {
      this.text = text;
      this.data = JSON.parse(text);
      const { frame, active, fit } = this.data;
      this.stage.style.setProperty("--frame", frame[0] / frame[1]);
      this.active.style.setProperty("--active", active[0] / active[1]);
      this.active.classList.toggle("tall", active[0] / active[1] < frame[0] / frame[1]);
      this.active.classList.toggle("inside", fit === "contain");
      this.drawStrip();
      this.shots.told = -1;
      this.shots.load(this.data);
    }
    this.buttons();
    this.shots.told = -1;
    this.shots.tellShot(this.shots.at(clock.now()));
  }

  drawStrip() {
    const { data } = this;
    const share = (seconds) => `${((seconds / data.length) * 100).toFixed(3)}%`;
    const fps = data.rate[0] / data.rate[1];
    const groups = [];
    for (const shot of data.shots) if (shot.take && !groups.includes(shot.group)) groups.push(shot.group);
    const lane = 12;
    const top = 18;
    const height = top + lane * Math.max(1, groups.length) + 2;
    const svg = made("svg:svg", { width: "100%", height, "aria-hidden": "true" });
    data.sections.forEach(([call, , start], nth) => {
      const end = data.sections[nth + 1]?.[2] ?? data.length;
      svg.append(made("svg:rect", { class: nth % 2 ? "part odd" : "part", x: share(start), y: 0, width: share(end - start), height }));
      svg.append(made("svg:text", { x: share(start), dx: 4, y: 13 }, call));
    });
    for (const [, start] of data.bars) svg.append(made("svg:line", { class: "tick", x1: share(start), x2: share(start), y1: top - 4, y2: top }));
    for (const shot of data.shots) {
      const [from, to] = [shot.from / fps, shot.to / fps];
      const row = groups.indexOf(shot.group);
      if (shot.take) svg.append(made("svg:rect", { class: "block", "data-shot": data.shots.indexOf(shot), x: share(from), y: top + row * lane, width: share(to - from), height: lane - 2 }));
      else svg.append(made("svg:rect", { class: "void", x: share(from), y: top, width: share(to - from), height: height - top - 2 }));
    }
    const names = made("ol", { class: "lanes", "aria-hidden": "true" }, ...groups.map((group) => made("li", {}, group || "no setup")));
    this.head = made("i", { class: "playhead" });
    this.strip.replaceChildren(svg, this.head);
    this.querySelector(".lanes")?.remove();
    this.strip.before(names);
    this.strip.setAttribute("aria-valuemax", data.length.toFixed(1));
  }

  buttons() {
    this.button.textContent = clock.isPlaying() ? "Stop" : "Play";
  }

  /** Plays from where it stands, once its picture is there; or stops. */
  async toggle() {
    if (clock.isPlaying()) {
      clock.pause();
      return;
    }
    let from = clock.now();
    if (from >= this.data.length - 0.05) from = 0;
    await this.playFrom(from);
  }

  /** Plays from `seconds`. */
  async playFrom(seconds) {
    if (clock.isPlaying() || clock.now() !== seconds) clock.standAt(seconds);
    await this.shots.prepare(seconds);
    await clock.play();
  }

  /** Goes to `seconds`; what was playing plays on from there. */
  go(seconds) {
    const to = Math.max(0, Math.min(seconds, this.data.length - 1e-3));
    if (clock.isPlaying()) this.playFrom(to);
    else clock.standAt(to);
  }

  point(event) {
    const at = (one) => {
      const box = this.strip.getBoundingClientRect();
      return ((one.clientX - box.left) / box.width) * this.data.length;
    };
    event.preventDefault();
    this.strip.focus();
    const playing = clock.isPlaying();
    if (playing) clock.pause();
    clock.standAt(Math.max(0, Math.min(at(event), this.data.length - 1e-3)));
    const move = (one) => clock.standAt(Math.max(0, Math.min(at(one), this.data.length - 1e-3)));
    const up = () => {
      this.strip.removeEventListener("pointermove", move);
      if (playing) this.playFrom(clock.now());
    };
    this.strip.setPointerCapture(event.pointerId);
    this.strip.addEventListener("pointermove", move);
    this.strip.addEventListener("pointerup", up, { once: true });
    this.strip.addEventListener("pointercancel", up, { once: true });
  }

  key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey || event.target.closest("summary")) return;
    const fps = this.data.rate[0] / this.data.rate[1];
    const song = clock.now();
    const frame = Math.floor(song * fps + 1e-3);
    const near = 0.5 / fps;
    const step = (times, on) => (on ? times.find((at) => at > song + near) ?? this.data.length : times.findLast((at) => at < song - near) ?? 0);
    const starts = this.data.shots.map((shot) => shot.from / fps);
    const bars = this.data.bars.map(([, at]) => at);
    const does = {
      " ": () => this.toggle(),
      ArrowLeft: () => this.go(event.shiftKey ? (frame - 1) / fps : step(this.data.beats, false)),
      ArrowRight: () => this.go(event.shiftKey ? (frame + 1) / fps : step(this.data.beats, true)),
      ArrowUp: () => this.go(step(bars, false)),
      ArrowDown: () => this.go(step(bars, true)),
      PageUp: () => this.go(step(starts, false)),
      PageDown: () => this.go(step(starts, true)),
      Home: () => this.go(0),
      End: () => this.go(this.data.length),
      Enter: () => this.choose(),
    }[event.key];
    // A button is pressed by these itself.
    if (!does || event.target.closest("button") && [" ", "Enter"].includes(event.key)) return;
    event.preventDefault();
    event.stopPropagation();
    does();
  }

  /** Opens the card of the shot that is shown. */
  choose() {
    const shot = this.shots.at(clock.now());
    document.querySelector(`.shots tr[data-shot="${shot.nth}"] a`)?.click();
  }

  /** Marks the shot that is shown, in the list and on the strip. */
  mark(shot) {
    for (const row of document.querySelectorAll(".shots tr[aria-current]")) row.removeAttribute("aria-current");
    document.querySelector(`.shots tr[data-shot="${shot.nth}"]`)?.setAttribute("aria-current", "true");
    this.strip.querySelector(".block.on")?.classList.remove("on");
    this.strip.querySelector(`[data-shot="${shot.nth}"]`)?.classList.add("on");
    this.showing.textContent = `Shot ${shot.nth + 1}: ${shot.take || "black"}`;
  }

  /** Says where one is. */
  tell() {
    const song = clock.now();
    const share = Math.min(1, Math.max(0, song / this.data.length));
    this.head.style.setProperty("left", `${share * 100}%`);
    const text = time(song);
    if (text === this.said) return;
    this.said = text;
    const { bars, beats } = this.data;
    const bar = bars.findLast(([, at]) => at <= song + 1e-3) || bars[0];
    const beat = beats.filter((at) => at >= bar[1] - 1e-3 && at <= song + 1e-3).length || 1;
    this.where.textContent = `${text} · bar ${bar[0]}.${beat}`;
    this.strip.setAttribute("aria-valuenow", song.toFixed(1));
    this.strip.setAttribute("aria-valuetext", `bar ${bar[0]}, beat ${beat}`);
  }
}
customElements.define("cut-player", CutPlayer);
