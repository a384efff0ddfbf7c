// Shots under a song without rendering: two pictures, one seen, one made ready behind it, swapped at the cut.
//
// The next shot's picture is loaded and stands a little before its beginning; it starts to run unseen, early
// enough to be pulled onto the song by its pace, and is shown in the first drawn frame that belongs to it.
import * as clock from "./player-clock.js";
import { token } from "./live.js";

/** How long before its cut a picture runs unseen, seconds of song. */
const LEAD_S = 0.7;
/** Off by more than this, an unseen picture is set anew rather than pulled; a seen one by more than the second. */
const FAR_S = 0.35;
const FAR_SEEN_S = 0.6;
/** How hard a picture is pulled onto the song, per second, and by how much of its pace at most. */
const PULL = 2.5;
const MOST_UNSEEN = 0.3;
const MOST_SEEN = 0.04;
/** As much where a seen picture is more than a frame and a half off: sync shows more than a moment's pace does. */
const MOST_ASTRAY = 0.15;
/** The slowest pace browsers run at. */
const SLOWEST = 0.0625;

/** One of the two pictures. */
class Picture {
  constructor(stage) {
    this.video = document.createElement("video");
    this.video.muted = true;
    this.video.playsInline = true;
    this.video.preload = "auto";
    this.video.disablePictureInPicture = true;
    this.video.setAttribute("aria-hidden", "true");
    this.video.tabIndex = -1;
    stage.append(this.video);
    this.forget();
    this.video.addEventListener("seeked", () => this.seeking && this.settle());
    if ("requestVideoFrameCallback" in this.video) this.watch();
  }

  /** Belongs to no shot. */
  forget() {
    this.shot = null;
    this.ready = false;
    this.seeking = false;
    this.running = false;
    this.off = null;
  }

  settle() {
    this.seeking = false;
    this.ready = true;
    for (const tell of this.waiting || []) tell();
    this.waiting = [];
  }

  /** Resolves once the picture stands where it was set, or after `ms`. */
  standing(ms) {
    if (this.ready) return Promise.resolve();
    return new Promise((tell) => {
      (this.waiting ||= []).push(tell);
      setTimeout(tell, ms);
    });
  }

  /** Takes `shot` of `take` from `source`, standing at `seconds` of the take. */
  take(shot, source, seconds) {
    const { video } = this;
    this.shot = shot;
    this.ready = false;
    this.running = false;
    this.off = null;
    this.seen = null;
    if (!video.paused) video.pause();
    this.from = Math.max(0, seconds);
    this.seeking = true;
    this.askedAt = performance.now();
    if (this.source !== source) {
      this.source = source;
      video.src = source;
    }
    // Set to where it stands already, some browsers do not say that they are there.
    video.currentTime = this.from + 1e-4;
  }

  /** Starts to run at `pace` takes' seconds a second. */
  run(pace) {
    this.running = true;
    this.startedAt = performance.now();
    this.startedFrom = this.from;
    this.begun = false;
    this.off = null;
    this.video.playbackRate = pace;
    this.video.play().catch(() => {});
  }

  watch() {
    const saw = (at, frame) => {
      this.seen = { media: frame.mediaTime, at: frame.expectedDisplayTime || at };
      this.fresh = true;
      this.video.requestVideoFrameCallback(saw);
    };
    this.video.requestVideoFrameCallback(saw);
  }
}

/** Shows the shots of one cut under the song. */
export class Shots extends EventTarget {
  /** `stage` holds the pictures; `card` is shown with words where there is no picture. */
  constructor(stage, card) {
    super();
    this.stage = stage;
    this.card = card;
    this.pictures = [new Picture(stage), new Picture(stage)];
    this.shown = null;
    this.nth = -1;
    this.latency = 90;
    this.seekMs = 120;
    this.refresh = 1000 / 60;
    this.bad = new Set();
    this.asked = new Set();
    this.plays = new Map();
    for (const picture of this.pictures) {
      picture.video.addEventListener("error", () => this.failed(picture));
      picture.video.addEventListener("seeked", () => {
        const took = performance.now() - picture.askedAt;
        if (took < 2000) this.seekMs += (took - this.seekMs) * 0.3;
        if (!clock.isPlaying()) this.stand();
      });
    }
    this.frame = (at) => this.tick(at);
    this.asking = requestAnimationFrame(this.frame);
  }

  /** Stops for good. */
  end() {
    cancelAnimationFrame(this.asking);
    for (const picture of this.pictures) {
      picture.video.pause();
      picture.video.removeAttribute("src");
      picture.video.load();
      picture.video.remove();
    }
  }

  /** Takes in a cut: `{ rate: [num, den], shots: [{from, to, take, start, speed}], takes: {id: {…}} }`. */
  load(cut) {
    this.cut = cut;
    this.fps = cut.rate[0] / cut.rate[1];
    this.shots = cut.shots.map((shot, nth) => ({
      ...shot,
      nth,
      at: shot.from / this.fps,
      end: shot.to / this.fps,
      // A shot that begins near its take's beginning has little to run in on: it runs in slowly.
      pre: Math.max(SLOWEST, Math.min(1 / shot.speed, shot.start / LEAD_S)),
    }));
    // A picture whose shot is the same in the new cut goes on as it is.
    for (const picture of this.pictures) {
      const was = picture.shot;
      const same = was && this.shots.find((one) => ["take", "start", "speed", "at", "end"].every((key) => one[key] === was[key]));
      if (same && picture.source === this.source(same.take)) picture.shot = same;
      else if (was) picture.forget();
      if (picture === this.shown) this.nth = same && picture.shot === same ? same.nth : -1;
    }
    this.ask();
    if (!clock.isPlaying()) this.stand();
  }

  /** The shot that is on at `seconds`, or the last. */
  at(seconds) {
    // To a thousandth of a frame, so that a time that was rounded does not miss its frame.
    const frame = Math.floor(seconds * this.fps + 1e-3);
    let low = 0;
    let high = this.shots.length - 1;
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (this.shots[middle].from <= frame) low = middle;
      else high = middle - 1;
    }
    return this.shots[low];
  }

  /** Seconds into the take that `shot` shows at `song`: the frame that begins nearest, hence half a frame on. */
  takeTime(shot, song) {
    const take = this.cut.takes[shot.take];
    const since = song - shot.at;
    return Math.max(0, shot.start + (since < 0 ? since * shot.pre : since / shot.speed) + 0.5 / (take?.fps || this.fps));
  }

  /** Takes' seconds a second at `song`: slower before the cut where there is little to run in on. */
  pace(shot, song) {
    return song < shot.at ? shot.pre : 1 / shot.speed;
  }

  /** Where the picture of a take comes from in this browser; `null` when it can't be shown (yet). */
  source(id) {
    const take = this.cut.takes[id];
    if (!take?.picture) return null;
    if (take.copy) return take.copy;
    return this.playable(id) ? take.file : null;
  }

  playable(id) {
    const take = this.cut.takes[id];
    if (!take?.type || this.bad.has(take.file)) return false;
    if (!this.plays.has(take.type)) {
      this.plays.set(take.type, document.createElement("video").canPlayType(take.type) !== "");
    }
    return this.plays.get(take.type);
  }

  /** Asks for copies of takes that this browser does not play, or not quickly. */
  ask() {
    for (const [id, take] of Object.entries(this.cut.takes)) {
      if (!take.picture || take.copy || this.asked.has(id)) continue;
      if (take.heavy || !this.playable(id)) {
        this.asked.add(id);
        const body = new URLSearchParams({ token: token() });
        fetch(take.ask, { method: "POST", headers: { "hx-request": "true" }, body }).catch(() => this.asked.delete(id));
      }
    }
  }

  failed(picture) {
    if (!picture.source || !picture.video.error) return;
    this.bad.add(picture.source);
    const { shot } = picture;
    picture.source = null;
    picture.forget();
    if (shot) this.ask();
    this.nth = -1;
  }

  /** Makes the picture of `song` ready and resolves once it stands, so that sound and picture begin together. */
  async prepare(song) {
    const shot = this.at(song);
    const source = shot.take ? this.source(shot.take) : null;
    if (!source) return;
    let picture = this.pictures.find((one) => one.shot === shot && one.source === source);
    const wanted = this.takeTime(shot, song);
    if (!picture || Math.abs(picture.video.currentTime - wanted) > 0.5 / this.fps) {
      picture ||= this.other();
      picture.take(shot, source, wanted);
      await picture.standing(900);
    }
  }

  other() {
    return this.pictures.find((one) => one !== this.shown) || this.pictures[0];
  }

  /** Shows the still of where the song stands. */
  stand() {
    if (!this.cut) return;
    const song = clock.now();
    const shot = this.at(song);
    const source = shot.take ? this.source(shot.take) : null;
    for (const picture of this.pictures) {
      if (picture.running) {
        picture.running = false;
        picture.video.pause();
      }
    }
    if (!source) {
      this.show(shot, null);
      return;
    }
    const wanted = this.takeTime(shot, song);
    let picture = this.pictures.find((one) => one.shot === shot && one.source === source);
    if (!picture) {
      picture = this.other();
      picture.take(shot, source, wanted);
    } else if (picture.ready && Math.abs(picture.video.currentTime - wanted) > 0.6 / this.fps) {
      picture.take(shot, source, wanted);
    }
    // What stood before stays until the new one is there.
    if (picture.ready) this.show(shot, picture);
    else this.tellShot(shot);
  }

  show(shot, picture) {
    if (picture !== this.shown || this.nth !== shot.nth) {
      for (const one of this.pictures) one.video.classList.toggle("seen", one === picture);
      this.shown = picture;
      this.nth = shot.nth;
      this.card.hidden = Boolean(picture) || !shot.take;
      if (!this.card.hidden) this.card.textContent = this.why(shot.take);
    }
    this.tellShot(shot);
  }

  why(id) {
    const take = this.cut.takes[id];
    if (!take?.known) return `${id}: looking at it`;
    if (!take.picture) return `${id}: no picture`;
    return `${id}: this browser does not play it; a copy is being made`;
  }

  tellShot(shot) {
    if (this.told === shot.nth) return;
    this.told = shot.nth;
    this.dispatchEvent(new CustomEvent("shot", { detail: shot }));
  }

  /** Every frame the browser draws. */
  tick(at) {
    this.asking = requestAnimationFrame(this.frame);
    clock.look(performance.now());
    if (this.lastTick) {
      const step = at - this.lastTick;
      if (step > 3 && step < 50) this.refresh += (step - this.refresh) * 0.05;
    }
    this.lastTick = at;
    if (!this.cut?.shots.length) return;
    this.dispatchEvent(new Event("time"));
    if (!clock.isPlaying()) {
      const song = clock.now();
      if (this.pictures.some((one) => one.running) || song !== this.stood) {
        this.stood = song;
        this.stand();
      }
      return;
    }
    this.stood = null;
    // What is drawn now is seen one refresh later; the nearer frame to a cut is within half of one.
    const song = clock.now(performance.now() + this.refresh * 1.5);
    const shot = this.at(song);
    this.follow(shot, song);
    this.ahead(shot, song);
    for (const picture of this.pictures) {
      const base = picture.running && this.pace(picture.shot, song);
      if (base && base !== picture.base) {
        picture.base = base;
        picture.off = null;
        picture.video.playbackRate = base;
      }
      this.pull(picture);
    }
  }

  /** Shows `shot`, as soon as its picture can be. */
  follow(shot, song) {
    const source = shot.take ? this.source(shot.take) : null;
    if (!source) {
      if (this.nth !== shot.nth) this.show(shot, null);
      return;
    }
    if (this.nth === shot.nth && this.shown?.shot === shot) {
      if (this.shown.ready && !this.shown.running) this.start(this.shown, song);
      return;
    }
    const picture = this.pictures.find((one) => one.shot === shot && one.source === source);
    if (!picture) {
      // Jumped into the middle: it stands a little ahead, to run when the song is there.
      const soon = song + (this.seekMs + this.latency) / 1000;
      this.other().take(shot, source, this.takeTime(shot, soon));
      this.tellShot(shot);
    } else if (picture.ready) {
      if (!picture.running) this.start(picture, song);
      this.show(shot, picture);
    }
  }

  start(picture, song) {
    picture.base = this.pace(picture.shot, song);
    picture.run(picture.base);
  }

  /** Makes the next shot ready behind the one that is seen, and lets it run in time. */
  ahead(shot, song) {
    const behind = this.other();
    if (behind.shot === shot && this.shown?.shot !== shot) return;
    const next = this.shots.slice(shot.nth + 1, shot.nth + 4).find((one) => one.take && this.source(one.take));
    if (!next) return;
    const source = this.source(next.take);
    if (behind.shot !== next || behind.source !== source) {
      const soonest = song + (this.seekMs * 1.5 + this.latency) / 1000;
      const from = Math.max(next.at - LEAD_S, Math.min(soonest, next.end));
      behind.take(next, source, this.takeTime(next, from));
      behind.due = from;
    } else if (behind.ready && !behind.running && song + this.latency / 1000 >= behind.due) {
      this.start(behind, song);
    }
  }

  /** Pulls a running picture onto the song by its pace; sets it anew only when it is far off. */
  pull(picture) {
    const { video, shot } = picture;
    if (!picture.running || !shot || !picture.fresh && picture.seen) return;
    picture.fresh = false;
    const { base } = picture;
    let off;
    if (picture.seen) {
      off = picture.seen.media - this.takeTime(shot, clock.now(picture.seen.at));
      if (!picture.begun && picture.seen.media > picture.startedFrom + 0.5 / this.fps) {
        // How long it took from being asked to run until frames went on.
        picture.begun = true;
        const ran = (picture.seen.media - picture.startedFrom) / base;
        const took = picture.seen.at - picture.startedAt - ran * 1000;
        // At a crawl a frame's length says too little.
        if (took > 0 && took < 800 && base > 0.3) this.latency += (took - this.latency) * 0.3;
      }
      if (!picture.begun) return;
    } else {
      off = video.currentTime - this.takeTime(shot, clock.now());
    }
    picture.off = picture.off === null ? off : picture.off + (off - picture.off) * 0.5;
    const seen = picture === this.shown;
    const song = clock.now();
    if (Math.abs(picture.off) * shot.speed > (seen ? FAR_SEEN_S : FAR_S)) {
      const soon = song + (this.seekMs + this.latency) / 1000;
      if (seen || soon < shot.at + 0.1) {
        picture.take(shot, picture.source, this.takeTime(shot, Math.max(soon, seen ? soon : shot.at - LEAD_S)));
        picture.due = soon;
      }
      return;
    }
    const frames = Math.abs(picture.off) * shot.speed * this.fps;
    const most = seen ? (frames > 1.5 ? MOST_ASTRAY : MOST_SEEN) : MOST_UNSEEN;
    // Where it is seen, half a frame off is left alone: a change of pace would show sooner.
    const still = seen && frames < 0.5;
    const by = still ? 0 : Math.max(-most, Math.min(most, picture.off * shot.speed * PULL));
    const pace = Math.max(SLOWEST, base * (1 - by));
    if (Math.abs(pace - video.playbackRate) > base * 0.004) video.playbackRate = pace;
  }
}
