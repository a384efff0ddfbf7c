/** Playback, the slate and its beep. */
const sound = (() => {
  const player = new Audio();
  player.preload = 'auto';
  const addresses = new Map();
  let playing = null;
  let context = null;
  let lock = null;

  /** An address the player can seek in, made from the data the file carries. */
  function address(index) {
    if (!addresses.has(index)) {
      const [, coded] = document.getElementById(`sound-${index}`).getAttribute('src').split(',');
      const bytes = Uint8Array.from(atob(coded), (character) => character.charCodeAt(0));
      addresses.set(index, URL.createObjectURL(new Blob([bytes], { type: 'audio/mp4' })));
    }
    return addresses.get(index);
  }

  /** Keeps the screen on while something plays, where the browser lets us. */
  async function stayAwake(wanted) {
    try {
      if (wanted && !lock) lock = await navigator.wakeLock.request('screen');
      else if (!wanted && lock) { await lock.release(); lock = null; }
    } catch (error) { lock = null; }
  }

  async function play(index) {
    player.src = address(index);
    player.currentTime = 0;
    playing = index;
    stayAwake(true);
    await player.play();
  }

  function stop() {
    player.pause();
    playing = null;
    stayAwake(false);
  }

  /** Where the song stands, from where the player stands: seconds of song, and clicks still to come. */
  function position() {
    if (playing === null) return null;
    const file = plan.sounds[playing];
    const at_s = player.currentTime;
    const left = file.clicks_s.filter((click) => click > at_s).length;
    return {
      song_s: file.song_at_stretch_s + (at_s - file.stretch_start_s) * file.speed,
      before: at_s < file.stretch_start_s,
      after: at_s >= file.stretch_end_s,
      clicks: at_s < file.stretch_start_s ? left : 0,
    };
  }

  /** One beep of 1 kHz, a tenth of a second, as loud as the phone is set. */
  function beep() {
    context = context || new (window.AudioContext || window.webkitAudioContext)();
    context.resume();
    const tone = context.createOscillator();
    const level = context.createGain();
    tone.frequency.value = 1000;
    level.gain.setValueAtTime(0.9, context.currentTime);
    level.gain.setValueAtTime(0, context.currentTime + 0.1);
    tone.connect(level).connect(context.destination);
    tone.start();
    tone.stop(context.currentTime + 0.12);
  }

  return { play, stop, position, beep, player, get playing() { return playing; } };
})();
