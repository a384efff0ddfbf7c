/**
 * Keeps the log on this phone. Entries go into IndexedDB, flushed to the disk before they count as
 * kept, and as a second copy into localStorage. Where IndexedDB is refused localStorage alone holds
 * them; where that is refused too nothing is kept and the page says so.
 */
const store = (() => {
  const KEY = `barebulb-pocket/${plan.project}/`;
  const CLOSE_MS = 120000;
  let db = null;
  let device = '';
  let last = { number: 0, at_ms: 0 };
  /** @type {Map<string, object>} everything this phone holds, by device and number */
  const held = new Map();
  let where = 'nowhere';

  const key = (entry) => `${entry.device}/${entry.number}`;

  /** A name nobody else draws: 12 hexadecimal digits. */
  function drawn() {
    const bytes = crypto.getRandomValues(new Uint8Array(6));
    return 'p' + [...bytes].map((byte) => byte.toString(16).padStart(2, '0')).join('');
  }

  /** Opens the database; refused after four seconds, as some browsers never answer. */
  function openDatabase() {
    return new Promise((done, refused) => {
      setTimeout(() => refused(new Error('no answer')), 4000);
      const asked = indexedDB.open(`barebulb-pocket-${plan.project}`, 1);
      asked.onupgradeneeded = () => {
        asked.result.createObjectStore('entries', { keyPath: ['device', 'number'] });
        asked.result.createObjectStore('own');
      };
      asked.onsuccess = () => done(asked.result);
      asked.onerror = () => refused(asked.error);
    });
  }

  /** Runs `work` in one transaction; done once it is on the disk. */
  function transaction(mode, work) {
    return new Promise((done, refused) => {
      const all = db.transaction(['entries', 'own'], mode, { durability: 'strict' });
      let result;
      all.oncomplete = () => done(result);
      all.onerror = all.onabort = () => refused(all.error || new Error('aborted'));
      work(all.objectStore('entries'), all.objectStore('own'), (value) => { result = value; });
    });
  }

  /** Reads what localStorage holds; `false` where it is refused. */
  function readCopies() {
    try {
      localStorage.setItem(`${KEY}?`, '1');
      for (let at = 0; at < localStorage.length; at += 1) {
        const name = localStorage.key(at);
        if (!name.startsWith(KEY) || name.endsWith('?')) continue;
        const entry = JSON.parse(localStorage.getItem(name));
        held.set(key(entry), entry);
      }
      return true;
    } catch (error) {
      return false;
    }
  }

  /** Writes the second copy; `false` where that is refused. */
  function copy(entry) {
    try {
      localStorage.setItem(KEY + key(entry), JSON.stringify(entry));
      return true;
    } catch (error) {
      return false;
    }
  }

  /** Reads all that is in the database, and puts what only the copies have back into it. */
  async function readDatabase() {
    const copies = [...held.values()];
    await transaction('readwrite', (entries, own, give) => {
      entries.getAll().onsuccess = (event) => {
        for (const entry of event.target.result) held.set(key(entry), entry);
        const there = new Set(event.target.result.map(key));
        for (const entry of copies) if (!there.has(key(entry))) entries.put(entry);
      };
      own.get('device').onsuccess = (event) => {
        device = event.target.result || drawn();
        if (!event.target.result) own.put(device, 'device');
        give(device);
      };
    });
  }

  /** Opens what there is. */
  async function open() {
    const copies = readCopies();
    try {
      db = await openDatabase();
      await readDatabase();
      where = 'disk';
    } catch (error) {
      db = null;
      // Numbers are given inside the database; without it every opening is a device of its own.
      device = drawn();
      where = copies ? 'copies' : 'nowhere';
    }
    return where;
  }

  /** The time of a new entry: after that of the last one even when the clock was set back a little. */
  const stamp = (before) => {
    const now = Date.now();
    return now <= before && before - now < CLOSE_MS ? before + 1 : now;
  };

  /** The highest number of this device that is held: a copy may know more than a database set back. */
  const highest = () => Math.max(0, ...[...held.values()]
    .filter((entry) => entry.device === device).map((entry) => entry.number));

  const made = (what, before) => {
    const entry = { device, number: before.number + 1, at_ms: stamp(before.at_ms) };
    if (plan.day) entry.day = plan.day;
    entry.what = what;
    return entry;
  };

  /** Writes a new entry; resolves once it is kept. Where it can't be, it is held until the page closes. */
  async function add(what) {
    let entry;
    if (db) {
      try {
        entry = await transaction('readwrite', (entries, own, give) => {
          own.get('last').onsuccess = (event) => {
            const before = event.target.result || { number: 0, at_ms: 0 };
            const next = made(what, { ...before, number: Math.max(before.number, highest()) });
            own.put({ number: next.number, at_ms: next.at_ms }, 'last');
            entries.add(next).onsuccess = () => give(next);
          };
        });
        copy(entry);
        held.set(key(entry), entry);
        return { entry, kept: true };
      } catch (error) {
        db = null;
        device = drawn();
        where = 'copies';
      }
    }
    entry = made(what, last);
    last = entry;
    held.set(key(entry), entry);
    const kept = copy(entry);
    if (!kept) where = 'nowhere';
    return { entry, kept };
  }

  /** Reads again what another tab of this phone may have written. */
  async function again() {
    readCopies();
    if (db) await readDatabase().catch(() => {});
  }

  return {
    open,
    add,
    again,
    all: () => [...held.values()],
    get device() { return device; },
    get where() { return where; },
  };
})();
