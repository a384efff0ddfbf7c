/** Puts the log on the page, and what is pressed into the log. */
const RATINGS = [['no-good', 'no good'], ['usable', 'usable'], ['circled', 'circled']];
const $ = (id) => document.getElementById(id);
const setupOf = new Map(plan.setups.map((setup) => [setup.id, setup]));
const calledSetup = (id) => (setupOf.has(id) ? setupOf.get(id).name : id);
let now = log.state([]);
let showing = null;

/** An element with properties and children. */
function make(name, properties = {}, ...children) {
  const element = document.createElement(name);
  for (const [property, value] of Object.entries(properties)) {
    if (property === 'on') element.addEventListener('click', value);
    else if (property in element && property !== 'list') element[property] = value;
    else element.setAttribute(property, value);
  }
  element.append(...children.filter((child) => child !== null && child !== undefined));
  return element;
}

/** The form of times: the reader's own, by the clock of the day's zone. */
function clockForm() {
  const form = { hour: 'numeric', minute: '2-digit' };
  try {
    return new Intl.DateTimeFormat(undefined, { ...form, timeZone: plan.zone || undefined });
  } catch (error) {
    return new Intl.DateTimeFormat(undefined, form);
  }
}
const form = clockForm();
const clock = (ms) => form.format(new Date(ms));

function timeOf(ms) {
  return make('time', { dateTime: new Date(ms).toISOString(), textContent: clock(ms) });
}

/** Minutes, with hours in front where there are any; seconds where it is near. */
function span(seconds) {
  const whole = Math.max(0, Math.floor(seconds));
  const two = (number) => String(number).padStart(2, '0');
  return whole >= 3600
    ? `${Math.floor(whole / 3600)} h ${two(Math.floor(whole / 60) % 60)} min`
    : `${Math.floor(whole / 60)}:${two(whole % 60)}`;
}

const songClock = (seconds) => {
  const tenths = Math.round(Math.abs(seconds) * 10);
  const text = `${Math.floor(tenths / 600)}:${String(Math.floor(tenths / 10) % 60).padStart(2, '0')}.${tenths % 10}`;
  return seconds < -0.05 ? `−${text}` : text;
};

function barAt(seconds) {
  const after = plan.bars_s.findIndex((start) => start > seconds + 1e-6);
  return after > 0 ? plan.first_bar + after - 1 : null;
}

const everything = () => {
  const all = new Map([...plan.log, ...store.all()].map((entry) => [`${entry.device}/${entry.number}`, entry]));
  return [...all.values()];
};

const say = (text) => { $('said').textContent = text; };

/** Writes one entry, and only then shows it. */
async function write(what, said) {
  const { kept } = await store.add(what);
  show();
  say(kept ? `${said}, kept` : `${said}, NOT KEPT`);
  link.soon();
}

const passesOf = (id) => (now.setups.get(id) || { passes: new Map() }).passes;

/** How many rows of passes a setup shows: those planned, those ticked, and one more once all are. */
function rowsOf(setup) {
  const passes = passesOf(setup.id);
  const highest = Math.max(0, ...[...passes].filter(([, pass]) => pass.done_ms || pass.notes.length || pass.rating !== 'unrated').map(([number]) => number));
  return Math.min(200, Math.max(setup.passes, highest));
}

/** The pass that is shot next. */
function nextPass(setup) {
  const passes = passesOf(setup.id);
  for (let number = 1; number <= 200; number += 1) {
    if (!passes.get(number)?.done_ms) return number;
  }
  return 200;
}

const settled = (id) => Boolean(now.setups.get(id)?.done_ms || now.setups.get(id)?.dropped_ms);
const current = () => plan.setups.find((setup) => !settled(setup.id)) || plan.setups[plan.setups.length - 1];

function notesOf(notes) {
  if (!notes.length) return null;
  return make('ul', { className: 'notes' }, ...notes.map((note) => make('li', {},
    make('span', {}, `${note.text} `, make('small', {}, timeOf(note.at_ms))),
    note.device === store.device
      ? make('button', { type: 'button', className: 'plain', textContent: 'take back', 'aria-label': `take back the note: ${note.text}`, on: () => write({ kind: 'withdraw', number: note.number }, 'note taken back') })
      : null)));
}

function passRow(setup, number) {
  const pass = passesOf(setup.id).get(number) || { done_ms: null, rating: 'unrated', notes: [] };
  const name = `pass ${number}`;
  const tick = make('button', {
    type: 'button', className: 'tick', id: `pass-${setup.id}-${number}`, 'aria-pressed': String(Boolean(pass.done_ms)),
    on: () => write({ kind: 'pass', setup: setup.id, pass: number, done: !pass.done_ms }, `${name} of ${setup.name} ${pass.done_ms ? 'not shot after all' : 'shot'}`),
  }, make('b', { 'aria-hidden': 'true', textContent: pass.done_ms ? '✓' : '' }), `Pass ${number} `,
  pass.done_ms ? make('small', {}, 'shot ', timeOf(pass.done_ms)) : make('small', { textContent: 'not shot' }));
  const ratings = RATINGS.map(([value, text]) => make('button', {
    type: 'button', textContent: text, id: `rate-${setup.id}-${number}-${value}`, 'aria-pressed': String(pass.rating === value), 'aria-label': `${name} ${text}`,
    on: () => write({ kind: 'rating', setup: setup.id, pass: number, rating: pass.rating === value ? 'unrated' : value }, `${name} ${pass.rating === value ? 'without a rating' : text}`),
  }));
  const note = make('button', { type: 'button', textContent: 'note', id: `note-${setup.id}-${number}`, 'aria-label': `note on ${name}`, on: () => askNote(setup.id, number) });
  return make('li', {}, tick, make('div', { className: 'row', role: 'group', 'aria-label': `${name}: rating and note` }, ...ratings, note), notesOf(pass.notes));
}

function showSetup(setup) {
  const state = now.setups.get(setup.id) || { done_ms: null, dropped_ms: null, notes: [] };
  const box = $(`work-${setup.id}`);
  const rows = rowsOf(setup);
  const items = Array.from({ length: rows }, (_, at) => passRow(setup, at + 1));
  const more = make('button', {
    type: 'button', textContent: `Pass ${rows + 1} as well`, id: `more-${setup.id}`,
    on: () => write({ kind: 'pass', setup: setup.id, pass: rows + 1, done: true }, `pass ${rows + 1} of ${setup.name} shot`),
  });
  const allShot = nextPass(setup) > rows;
  const done = make('button', {
    type: 'button', className: 'tick', id: `done-${setup.id}`, 'aria-pressed': String(Boolean(state.done_ms)),
    on: () => write({ kind: 'setup', setup: setup.id, done: !state.done_ms }, `${setup.name} ${state.done_ms ? 'not done after all' : 'done'}`),
  }, make('b', { 'aria-hidden': 'true', textContent: state.done_ms ? '✓' : '' }), 'Setup done ', state.done_ms ? make('small', {}, timeOf(state.done_ms)) : null);
  const drop = make('button', {
    type: 'button', id: `drop-${setup.id}`, textContent: state.dropped_ms ? 'Shoot it after all' : 'Drop this setup',
    on: () => write({ kind: state.dropped_ms ? 'reinstate' : 'drop', setup: setup.id }, `${setup.name} ${state.dropped_ms ? 'shot after all' : 'dropped'}`),
  });
  const note = make('button', { type: 'button', textContent: 'Note', id: `note-${setup.id}`, 'aria-label': `note on ${setup.name}`, on: () => askNote(setup.id, null) });
  box.replaceChildren(
    make('ol', { className: 'passes', 'aria-label': `passes of ${setup.name}` }, ...items),
    make('div', { className: 'row' }, allShot ? more : null, note, drop),
    done,
    notesOf(state.notes) || '',
  );
  $(`status-${setup.id}`).textContent = state.done_ms ? `done ${clock(state.done_ms)}` : state.dropped_ms ? `dropped ${clock(state.dropped_ms)}` : '';
}

/** Which setup stands in view. */
function choose(id) {
  showing = setupOf.has(id) ? id : current()?.id;
  for (const { id: each } of plan.setups) $(`setup-${each}`).hidden = each !== showing;
  const at = plan.setups.findIndex((setup) => setup.id === showing);
  if (at < 0) return;
  $('which').textContent = `${at + 1} of ${plan.setups.length}`;
  for (const [button, other] of [['back', plan.setups[at - 1]], ['on', plan.setups[at + 1]]]) {
    $(button).disabled = !other;
    $(button).onclick = () => { if (other) location.hash = `setup-${other.id}`; };
  }
}

/** The section and setup that the address names. */
function route(focus) {
  const name = decodeURIComponent(location.hash.slice(1));
  const section = ['shoot', 'day', 'care', 'log'].includes(name) ? name : 'shoot';
  for (const each of document.querySelectorAll('main > section')) each.dataset.off = String(each.id !== section);
  for (const each of document.querySelectorAll('nav a')) {
    if (each.hash === `#${section}`) each.setAttribute('aria-current', 'page');
    else each.removeAttribute('aria-current');
  }
  choose(name.startsWith('setup-') ? name.slice(6) : showing);
  if (focus) {
    // The browser goes to what the address names first.
    requestAnimationFrame(() => scrollTo(0, 0));
    $(section).querySelector('h2').focus({ preventScroll: true });
  }
}

function showDay() {
  const next = current()?.id;
  for (const setup of plan.setups) {
    const state = now.setups.get(setup.id);
    const shot = [...passesOf(setup.id).values()].filter((pass) => pass.done_ms).length;
    const text = state?.done_ms ? `✓ done ${clock(state.done_ms)}` : state?.dropped_ms ? '✕ dropped' : setup.id === next ? '▸ now' : '';
    $(`line-${setup.id}`).textContent = [text, shot ? `${shot} of ${setup.passes} passes` : ''].filter(Boolean).join(' · ');
  }
  const meal = $('meal');
  if (meal) {
    meal.setAttribute('aria-pressed', String(Boolean(now.meal_ms)));
    meal.querySelector('b').textContent = now.meal_ms ? '✓' : '';
    meal.onclick = () => write({ kind: 'meal', taken: !now.meal_ms }, now.meal_ms ? 'meal not had after all' : 'meal had');
  }
  for (const battery of plan.batteries) {
    const swaps = now.swaps.filter((swap) => swap.battery === battery.id);
    $(`swaps-${battery.id}`).replaceChildren(...swaps.map((swap, at) => make('li', {},
      make('span', {}, `${at + 1}. changed `, timeOf(swap.at_ms)),
      swap.device === store.device
        ? make('button', { type: 'button', className: 'plain', textContent: 'take back', 'aria-label': `take back change ${at + 1} of ${battery.name}`, on: () => write({ kind: 'withdraw', number: swap.number }, 'change taken back') })
        : null)));
  }
}

const SAYS = {
  pass: (what) => `pass ${what.pass} of ${calledSetup(what.setup)} ${what.done ? 'shot' : 'not shot after all'}`,
  setup: (what) => `${calledSetup(what.setup)} ${what.done ? 'done' : 'not done after all'}`,
  rating: (what) => `pass ${what.pass} of ${calledSetup(what.setup)}: ${(RATINGS.find(([value]) => value === what.rating) || ['', 'no rating'])[1]}`,
  note: (what) => `${what.setup ? `${calledSetup(what.setup)}${what.pass ? `, pass ${what.pass}` : ''}` : 'the day'}: ${what.text}`,
  swap: (what) => `battery changed: ${(plan.batteries.find(({ id }) => id === what.battery) || { name: what.battery }).name}`,
  drop: (what) => `${calledSetup(what.setup)} dropped`,
  reinstate: (what) => `${calledSetup(what.setup)} shot after all`,
  meal: (what) => (what.taken ? 'meal had' : 'meal not had after all'),
  withdraw: (what) => `entry ${what.number} taken back`,
};

function showLog() {
  const entries = everything().sort(log.byTime).reverse();
  $('entries').replaceChildren(...entries.map((entry) => make('li', {}, timeOf(entry.at_ms), make('span', { textContent: (SAYS[entry.what.kind] || (() => entry.what.kind))(entry.what) }))));
  $('day-notes').replaceChildren(notesOf(now.notes) || '');
  const own = store.all().length;
  const words = {
    disk: `${own} kept on this phone`,
    copies: `${own} kept, but only in a small store that the browser may empty: save the file now and then`,
    nowhere: `NOTHING IS KEPT: this browser refuses to store. ${own} entries are lost when the page closes. Save the file now.`,
  };
  $('kept').textContent = words[store.where];
  $('alarm').hidden = store.where !== 'nowhere';
  $('alarm-says').textContent = words.nowhere;
  $('count').textContent = store.where === 'nowhere' ? 'not kept!' : `${own} kept`;
}

function show() {
  const focused = document.activeElement && document.activeElement.id;
  now = log.state(everything());
  plan.setups.forEach(showSetup);
  showDay();
  showLog();
  if (!showing) choose(null);
  // Rows are drawn anew; whoever moves by keys stays where they were.
  if (focused && document.activeElement === document.body && $(focused)) $(focused).focus({ preventScroll: true });
}

/** The next thing in the sky and in the day, counted down. */
function tick() {
  const at_s = Date.now() / 1000;
  const next = plan.sky.find((moment) => moment.at_s > at_s);
  $('sky-next').textContent = next ? `${next.what} in ${span(next.at_s - at_s)}` : '';
  for (const line of document.querySelectorAll('[data-in]')) {
    const left = Number(line.dataset.in) - at_s;
    line.textContent = left > 0 ? `in ${span(left)}` : 'past';
  }
  const wall = form.format(new Date());
  if ($('wall').textContent !== wall) $('wall').textContent = wall;
}

/** Asks for a note. */
function askNote(setup, pass) {
  const dialog = $('note');
  const about = setup ? `${calledSetup(setup)}${pass ? `, pass ${pass}` : ''}` : 'the day';
  $('note-about').textContent = `Note: ${about}`;
  $('note-text').value = '';
  $('note-keep').onclick = async () => {
    const text = $('note-text').value.trim().slice(0, 1000);
    if (!text) { $('note-text').focus(); return; }
    const what = { kind: 'note' };
    if (setup) what.setup = setup;
    if (pass) what.pass = pass;
    what.text = text;
    await write(what, 'note written');
    dialog.close();
  };
  dialog.showModal();
  $('note-text').focus();
}

/** The slate: which setup, which pass, where the song is. */
const slate = (() => {
  let setup = null;
  let pass = 1;
  let frame = 0;
  function text() {
    $('slate-setup').textContent = setup.name;
    $('slate-pass').textContent = `pass ${pass}`;
    $('slate-tick').textContent = passesOf(setup.id).get(pass)?.done_ms ? `✓ pass ${pass} shot` : `Pass ${pass} shot`;
  }
  function draw() {
    const at = sound.position();
    const speed = sound.playing === null ? 1 : plan.sounds[sound.playing].speed;
    $('slate-time').textContent = at && !at.before ? songClock(at.song_s) : at ? (at.clicks || '·') : '–:––.–';
    $('slate-time').classList.toggle('few', Boolean(at && at.before));
    const bar = at && !at.before ? barAt(at.song_s) : null;
    $('slate-bar').textContent = [bar ? `bar ${bar}` : at && at.before ? 'counting in' : '', speed === 1 ? '' : `speed ${plan.sounds[sound.playing].speed_text}`].filter(Boolean).join(' · ');
    $('slate-wall').textContent = new Date().toLocaleTimeString();
    frame = requestAnimationFrame(draw);
  }
  function close() {
    cancelAnimationFrame(frame);
    sound.stop();
    showSounds();
  }
  function open(id) {
    setup = setupOf.get(id);
    pass = nextPass(setup);
    $('slate-sounds').replaceChildren(...setup.sounds.map(({ sound: index, name }) => make('button', {
      type: 'button', textContent: setup.sounds.length > 1 ? `Play ${name}` : 'Play', 'aria-label': `Play ${name}`,
      on: () => (sound.playing === index ? sound.stop() : sound.play(index).catch(() => say('this browser can’t play the sound'))),
    })));
    text();
    $('slate').showModal();
    ($('slate-sounds').querySelector('button') || $('slate-beep')).focus();
    draw();
  }
  $('slate').addEventListener('close', close);
  $('slate-close').onclick = () => $('slate').close();
  $('slate-beep').onclick = () => {
    sound.beep();
    $('slate').classList.add('flash');
    setTimeout(() => $('slate').classList.remove('flash'), 120);
  };
  $('slate-less').onclick = () => { pass = Math.max(1, pass - 1); text(); };
  $('slate-more').onclick = () => { pass = Math.min(200, pass + 1); text(); };
  $('slate-tick').onclick = async () => {
    await write({ kind: 'pass', setup: setup.id, pass, done: !passesOf(setup.id).get(pass)?.done_ms }, `pass ${pass} of ${setup.name} shot`);
    text();
  };
  return { open };
})();

/** Play buttons outside the slate show what plays. */
function showSounds() {
  for (const button of document.querySelectorAll('button[data-sound]')) {
    const on = sound.playing === Number(button.dataset.sound);
    button.setAttribute('aria-pressed', String(on));
    button.querySelector('b').textContent = on ? '■' : '▶';
  }
}

/** The log as QR codes, one at a time. */
async function showCodes() {
  const parts = await log.parts(store.all());
  let at = 0;
  const draw = () => {
    const code = qrcode(0, 'M');
    code.addData(parts[at], 'Alphanumeric');
    code.make();
    const count = code.getModuleCount();
    let path = '';
    for (let row = 0; row < count; row += 1) {
      for (let column = 0; column < count; column += 1) if (code.isDark(row, column)) path += `M${column + 4} ${row + 4}h1v1h-1z`;
    }
    const picture = $('code-picture');
    picture.setAttribute('viewBox', `0 0 ${count + 8} ${count + 8}`);
    picture.setAttribute('aria-label', `QR code ${at + 1} of ${parts.length}`);
    picture.querySelector('path').setAttribute('d', path);
    $('code-which').textContent = `${at + 1} of ${parts.length}`;
    $('code-back').disabled = at === 0;
    $('code-on').disabled = at === parts.length - 1;
  };
  $('code-back').onclick = () => { at -= 1; draw(); };
  $('code-on').onclick = () => { at += 1; draw(); };
  $('code-close').onclick = () => $('codes').close();
  draw();
  $('codes').showModal();
}

const fileName = () => `log-${plan.day || 'day'}-${store.device}.json`;

function save() {
  const address = URL.createObjectURL(new Blob([log.file(store.all())], { type: 'application/json' }));
  const link = make('a', { href: address, download: fileName() });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(address), 60000);
  say('log saved as a file');
}

/** Another program on the phone gets the file. */
function share() {
  const file = new File([log.file(store.all())], fileName(), { type: 'application/json' });
  const offered = { files: [file], title: fileName() };
  if (!navigator.canShare || !navigator.canShare(offered)) return null;
  return () => navigator.share(offered).catch(() => {});
}

/** Sends new entries to the laptop that serves the page, and keeps trying quietly. */
const link = (() => {
  const served = location.protocol.startsWith('http');
  let busy = false;
  let waiting = 0;
  let known = {};
  async function send() {
    if (busy || !served) return;
    busy = true;
    try {
      const entries = store.all().filter((entry) => entry.number > (known[entry.device] || 0)).sort(log.byTime).slice(0, 500);
      const headers = { 'content-type': 'application/json' };
      if (plan.token) headers['x-barebulb-token'] = plan.token;
      const body = JSON.stringify({ device: store.device, project: plan.project, entries });
      const answer = await fetch(plan.link || 'pocket/log', { method: 'POST', headers, body, credentials: 'same-origin', signal: AbortSignal.timeout(8000) });
      if (!answer.ok) throw new Error(String(answer.status));
      known = (await answer.json()).known || {};
      const there = store.all().filter((entry) => entry.number <= (known[entry.device] || 0)).length;
      $('linked').textContent = `${there} of ${store.all().length} are on the laptop`;
      if (there < store.all().length && entries.length) soon();
    } catch (error) {
      $('linked').textContent = 'the laptop does not answer now; what is written goes there when it does';
    }
    busy = false;
  }
  function soon() {
    clearTimeout(waiting);
    waiting = setTimeout(send, 300);
  }
  if (served) setInterval(send, 20000);
  return { soon: served ? soon : () => {} };
})();

/** The dress: night unless it was changed. */
function dress(change) {
  let worn = 'night';
  try {
    worn = localStorage.getItem('barebulb-pocket-dress') || 'night';
    if (change) {
      worn = worn === 'night' ? 'paper' : 'night';
      localStorage.setItem('barebulb-pocket-dress', worn);
    }
  } catch (error) {
    if (change) worn = document.documentElement.dataset.dress === 'night' ? 'paper' : 'night';
  }
  document.documentElement.dataset.dress = worn;
  $('dress').setAttribute('aria-pressed', String(worn === 'night'));
}

async function begin() {
  dress(false);
  $('dress').onclick = () => dress(true);
  for (const time of document.querySelectorAll('time[data-at]')) {
    const ms = Number(time.dataset.at) * 1000;
    time.dateTime = new Date(ms).toISOString();
    // The day it lies in stays behind it: `02:30 (+1)`.
    const next = time.textContent.match(/ \(\+\d\)$/);
    time.textContent = clock(ms) + (next ? next[0] : '');
  }
  for (const day of document.querySelectorAll('time[data-date]')) {
    day.textContent = new Date(`${day.dataset.date}T12:00:00Z`).toLocaleDateString(undefined, { weekday: 'long', day: 'numeric', month: 'long', year: 'numeric', timeZone: 'UTC' });
  }
  for (const button of document.querySelectorAll('button[data-slate]')) button.onclick = () => slate.open(button.dataset.slate);
  for (const button of document.querySelectorAll('button[data-swap]')) button.onclick = () => write({ kind: 'swap', battery: button.dataset.swap }, 'battery changed');
  for (const button of document.querySelectorAll('button[data-sound]')) {
    const index = Number(button.dataset.sound);
    button.onclick = () => {
      if (sound.playing === index) sound.stop();
      else sound.play(index).then(showSounds).catch(() => say('this browser can’t play the sound'));
      showSounds();
    };
  }
  sound.player.onended = () => { sound.stop(); showSounds(); };
  $('save').onclick = save;
  $('alarm-save').onclick = save;
  $('show-codes').onclick = showCodes;
  $('day-note').onclick = () => askNote(null, null);
  $('note-leave').onclick = () => $('note').close();
  await store.open();
  const shared = share();
  $('share').hidden = !shared;
  $('share').onclick = () => share()?.();
  $('device').textContent = store.device;
  show();
  route(false);
  tick();
  setInterval(tick, 1000);
  addEventListener('hashchange', () => route(true));
  document.addEventListener('visibilitychange', async () => {
    if (document.visibilityState === 'visible') { await store.again(); show(); tick(); link.soon(); }
  });
  try { navigator.storage.persist(); } catch (error) { /* It is kept as long as the browser likes. */ }
  link.soon();
  document.documentElement.dataset.ready = 'yes';
}

begin();
