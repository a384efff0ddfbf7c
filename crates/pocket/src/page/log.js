/** What a log comes to, and how it leaves the phone. The same rules as `model::SoFar` and `pocket::log`. */
const log = (() => {
  const byTime = (a, b) => a.at_ms - b.at_ms
    || (a.device < b.device ? -1 : a.device > b.device ? 1 : 0)
    || a.number - b.number;

  /** What `entries` come to: later ones hold against earlier ones, withdrawn ones count for nothing. */
  function state(entries) {
    const sorted = [...entries].sort(byTime);
    const withdrawn = new Set(sorted.filter(({ what }) => what.kind === 'withdraw')
      .map(({ device, what }) => `${device}/${what.number}`));
    const setups = new Map();
    const out = { setups, swaps: [], meal_ms: null, notes: [] };
    const setup = (id) => {
      if (!setups.has(id)) setups.set(id, { done_ms: null, dropped_ms: null, passes: new Map(), notes: [] });
      return setups.get(id);
    };
    const pass = (id, number) => {
      const { passes } = setup(id);
      if (!passes.has(number)) passes.set(number, { done_ms: null, rating: 'unrated', notes: [] });
      return passes.get(number);
    };
    for (const entry of sorted) {
      const { device, number, at_ms, what } = entry;
      if (withdrawn.has(`${device}/${number}`)) continue;
      const note = { text: what.text, device, number, at_ms };
      switch (what.kind) {
        case 'pass': pass(what.setup, what.pass).done_ms = what.done ? at_ms : null; break;
        case 'setup': setup(what.setup).done_ms = what.done ? at_ms : null; break;
        case 'rating': pass(what.setup, what.pass).rating = what.rating; break;
        case 'note':
          if (what.setup && what.pass) pass(what.setup, what.pass).notes.push(note);
          else if (what.setup) setup(what.setup).notes.push(note);
          else out.notes.push(note);
          break;
        case 'swap': out.swaps.push({ battery: what.battery, device, number, at_ms }); break;
        case 'drop': setup(what.setup).dropped_ms = at_ms; break;
        case 'reinstate': setup(what.setup).dropped_ms = null; break;
        case 'meal': out.meal_ms = what.taken ? at_ms : null; break;
        default: break;
      }
    }
    return out;
  }

  /** The log as a file's text. */
  const file = (entries) => JSON.stringify({
    barebulb_log: 1,
    project: plan.project,
    entries: [...entries].sort(byTime),
  });

  const TABLE = Array.from({ length: 256 }, (_, byte) => {
    let crc = byte;
    for (let bit = 0; bit < 8; bit += 1) crc = (crc >>> 1) ^ (crc & 1 ? 0xedb88320 : 0);
    return crc >>> 0;
  });

  /** CRC-32 as in zip, eight hexadecimal digits. */
  function crc32(bytes) {
    let crc = 0xffffffff;
    for (const byte of bytes) crc = (crc >>> 8) ^ TABLE[(crc ^ byte) & 255];
    return ((crc ^ 0xffffffff) >>> 0).toString(16).toUpperCase().padStart(8, '0');
  }

  const CHARACTERS = '0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:';

  /** Base45 (RFC 9285). */
  function base45(bytes) {
    let text = '';
    for (let at = 0; at < bytes.length; at += 2) {
      const pair = at + 1 < bytes.length;
      let value = pair ? bytes[at] * 256 + bytes[at + 1] : bytes[at];
      for (let digit = 0; digit < (pair ? 3 : 2); digit += 1) {
        text += CHARACTERS[value % 45];
        value = Math.floor(value / 45);
      }
    }
    return text;
  }

  /** Raw DEFLATE, or `null` where the browser has none. */
  async function deflated(bytes) {
    try {
      const squeezed = new Blob([bytes]).stream().pipeThrough(new CompressionStream('deflate-raw'));
      return new Uint8Array(await new Response(squeezed).arrayBuffer());
    } catch (error) {
      return null;
    }
  }

  const PIECE_BYTES = 306;

  /** The log cut into texts for QR codes. */
  async function parts(entries) {
    const plain = new TextEncoder().encode(file(entries));
    const squeezed = await deflated(plain);
    const whole = squeezed || plain;
    const total = Math.ceil(whole.length / PIECE_BYTES);
    return Array.from({ length: total }, (_, at) => {
      const data = base45(whole.subarray(at * PIECE_BYTES, (at + 1) * PIECE_BYTES));
      const check = crc32(new TextEncoder().encode(data));
      return `${squeezed ? 'BB1Z' : 'BB1P'}/${at + 1}/${total}/${crc32(whole)}/${check}/${data}`;
    });
  }

  return { state, file, parts, byTime };
})();
