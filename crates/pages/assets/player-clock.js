// The song as master clock: what the sound element says, smoothed between its steps.
//
// A media element's time is the time of what is being heard: browsers take the delay of the sound device off
// it where the system tells it. So nothing is added here. While it plays, its time is never set.

/** The element that sounds; it outlives every page. */
export const sound = () => document.getElementById("song-sound");

/** How far the smoothed time may stray before it is set anew, seconds. */
const STRAYED = 0.06;
let offset = 0;
let last = -1;
let settled = 0;

/** Looks at the element once; called for every frame that is drawn. */
export function look(at = performance.now()) {
  const audio = sound();
  if (!audio || audio.paused) {
    settled = 0;
    return;
  }
  const said = audio.currentTime;
  // Before it has begun to sound its time stands still, and says nothing of pace.
  if (said === last && settled === 0) return;
  last = said;
  const now = said - at / 1000;
  if (settled === 0 || Math.abs(now - offset) > STRAYED) {
    offset = now;
    settled = 1;
  } else {
    settled += 1;
    offset += (now - offset) * Math.max(0.05, 1 / settled);
  }
}

/** Song seconds heard at `at`, a time of `performance.now()`. */
export function now(at = performance.now()) {
  const audio = sound();
  if (!audio) return 0;
  return audio.paused || settled === 0 ? audio.currentTime : offset + at / 1000;
}

/** Whether it plays. */
export const isPlaying = () => Boolean(sound() && !sound().paused && !sound().ended);

/** Stands at `from` without playing. */
export function standAt(from) {
  const audio = sound();
  if (!audio) return;
  if (!audio.paused) audio.pause();
  settled = 0;
  last = -1;
  audio.currentTime = from;
}

/** Plays from `from`, or from where it stands. */
export async function play(from) {
  const audio = sound();
  if (!audio) return;
  if (from !== undefined && Math.abs(audio.currentTime - from) > 0.002) standAt(from);
  settled = 0;
  last = audio.currentTime;
  await audio.play();
}

/** Stops. */
export const pause = () => sound()?.pause();
