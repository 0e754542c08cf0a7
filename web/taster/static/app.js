// The taster's page: wires what the phone knows, the line to the host and the
// screens. The host decides everything; this page keeps what it has not heard
// of yet, and shows the one screen that follows from both.

import { codeText } from './frame.js';
import { probe, randomHex, write } from './keep.js';
import { Line } from './line.js';
import { Outbox } from './outbox.js';
import { Place, keptLeft, picked, place as placeOf, rinseLeft, screenOf } from './place.js';
import { told } from './screens/answer.js';
import { screens } from './screens/index.js';
import { render } from './vendor/htm-preact-3.1.1.js';

/**
 * @typedef {import('./types.js').Act} Act
 * @typedef {import('./types.js').Theme} Theme
 * @typedef {import('./frames.js').View} View
 * @typedef {import('./frames.js').Kept} Kept
 * @typedef {import('./frames.js').Refused} Refused
 */

const VERSION = 1;
const root = /** @type {HTMLElement} */ (document.getElementById('app'));
const live = /** @type {HTMLElement} */ (document.getElementById('live'));

probe();
const door = doorOf(location.pathname.split('/').pop() ?? '');
const place = new Place(door);
const outbox = new Outbox(door);
const local = place.local;
const line = new Line({
  url: new URL('/ws', location.href).href.replace(/^http/, 'ws'),
  hello: { t: 'hello', v: VERSION, door, token: place.token },
  outbox,
  onFrame,
  onState,
});

/** @type {import('./frames.js').Tray[]} typed while the line was down */
let typedTrays = [];

/**
 * doorOf reads a door's code as people type it.
 * @param {string} text
 */
function doorOf(text) {
  return text.replace(/%20|[\s-]/g, '').toUpperCase();
}

/** @param {any} frame */
function onFrame(frame) {
  local.now = Date.now();
  if (frame.t === 'view') onView(frame);
  else if (frame.t === 'kept') onKept(frame);
  else if (frame.t === 'refused') onRefused(frame);
  else return; // a newer host may say more than this page understands
  changed();
}

/** @param {View} view */
function onView(view) {
  if (view.v !== VERSION) {
    local.refused = {
      why: 'version', final: true, say: 'This page is older than the host’s laptop.', next: 'Load it again. What is locked on this phone stays.',
    };
    return;
  }
  if (local.refused && !local.refused.id) local.refused = null; // it was about the door, which is open now
  view.kept ??= []; // an empty list may come as null
  place.take(view);
  if (view.seat > 0 && view.step !== 'door') outbox.take(outbox.sit()?.id);
}

/** @param {Kept & {id: string}} kept */
function onKept(kept) {
  // Sent twice, answered twice: the second time it has left the outbox already.
  if (!outbox.all().some((f) => f.id === kept.id)) return;
  const { set, take, pick, also, guess, at, right, answer: known, answerAlso } = kept;
  const answer = { set, take, pick, also, guess, at, right, answer: known, answerAlso };
  local.pick = null;
  place.keep(answer);
  if (place.view && !place.view.kept.some((k) => k.set === set && k.take === take)) place.view.kept.push(answer);
  if (told(answer)) say(told(answer)); // the heading, which is read by itself, says no more than "kept"
  place.save(); // first: a reload between the two must not forget that it is kept
  outbox.take(kept.id);
}

/** @param {Refused} refused */
function onRefused(refused) {
  // A busy host has decided nothing: the frame stays and goes out again.
  if (refused.why === 'busy' && !refused.final) return;
  const frame = outbox.take(refused.id);
  if (frame?.t === 'sit' && refused.why === 'code' && place.view) {
    local.code = place.view.seat ? '' : local.name; // before it is typed again, where a code is asked for
    local.name = '';
    local.page = place.view.seat ? '' : 'card';
    local.fault = `${refused.say} ${place.view.seat ? refused.next : 'It leads to the seat on the card.'}`;
    say(local.fault);
    return;
  }
  if (frame || refused.final || !place.view) local.refused = refused;
  local.page = '';
}

/** @param {import('./line.js').LineState} state */
function onState(state) {
  if (state === 'up') {
    typedTrays = typedTrays.filter((t) => !line.tell(t));
    wish();
  }
  changed();
}

/** wish tells the host of a call, or of one taken back, that no view shows yet. */
function wish() {
  if (local.wish === '') return;
  line.tell(local.wish === 'uncall' ? { t: 'uncall' } : { t: 'call', why: local.wish });
}

/** @type {Act} */
const act = {
  sit(name) {
    local.name = name.trim();
    if (outbox.sit()) return;
    local.fault = local.name ? '' : 'Type a name, so that the host knows who sits here.';
    if (local.fault) {
      changed();
      document.getElementById('name')?.focus();
      return;
    }
    line.post({ t: 'sit', id: randomHex(), name: [...local.name].slice(0, 40).join('') });
    changed();
  },
  sitOut(out) {
    local.out = out;
    local.fault = '';
    changed();
  },
  press(key) {
    if (key === 'clear') local.typed = '';
    else if (key === 'back') local.typed = local.typed.slice(0, -1);
    else local.typed += key;
    if (local.typed.length < 3) {
      say(local.typed ? [...local.typed].join(' ') : 'empty');
      changed();
      return;
    }
    const set = /** @type {import('./frames.js').SetInFront} */ (place.view?.front);
    const code = local.typed;
    local.typed = '';
    local.wrong = code === codeText(set.codes[0]) ? '' : code;
    if (!local.wrong) local.checked[placeOf(set)] = set.codes;
    /** @type {import('./frames.js').Tray} */
    const tray = { t: 'tray', set: set.n, take: set.take, code: Number(code) };
    if (!line.tell(tray)) typedTrays.push(tray);
    changed();
  },
  retype() {
    local.wrong = '';
    local.typed = '';
    changed();
  },
  pick(code) {
    const set = /** @type {import('./frames.js').SetInFront} */ (place.view?.front);
    const key = placeOf(set);
    const was = local.pick?.key === key ? local.pick : { codes: [], guess: false };
    const codes = picked(set, was.codes, code);
    local.fault = codes === was.codes ? 'Two cups are picked already. Tap one of them to let it go.' : '';
    local.pick = { key, codes, guess: was.guess };
    changed();
  },
  guess(guess) {
    if (local.pick) local.pick.guess = guess;
    changed();
  },
  lock() {
    const set = place.view?.front;
    const pick = local.pick;
    if (!set || pick?.key !== placeOf(set) || pick.codes.length !== set.picks || outbox.lock()) return;
    local.fault = '';
    line.post({
      t: 'lock', id: randomHex(), set: set.n, take: set.take, pick: pick.codes[0], also: pick.codes[1], guess: pick.guess, at: new Date().toISOString(),
    });
    changed();
  },
  open(page) {
    local.page = page;
    local.fault = '';
    changed();
  },
  call(why) {
    local.wish = why;
    local.why = why;
    local.page = 'called';
    wish();
    line.wake(); // proves the line: a call that nobody hears must not look like one
    changed();
  },
  uncall() {
    local.wish = place.view?.calling ? 'uncall' : '';
    line.tell({ t: 'uncall' });
    line.wake();
    local.page = '';
    changed();
  },
  rinseAgain() {
    if (local.rinse) local.rinse.until = Date.now() + local.rinse.of * 1000;
    changed();
  },
  theme(theme) {
    local.theme = theme;
    write('oddcup.theme', theme);
    changed();
  },
  goOn() {
    local.refused = null;
    changed();
  },
  again() {
    local.refused = null;
    line.again();
    changed();
  },
  reload: () => location.reload(),
  goDoor(code) {
    const next = doorOf(code);
    if (/^[0-9A-Z]{6}$/.test(next)) {
      location.assign(new URL(next, location.href));
      return;
    }
    local.code = code;
    local.fault = 'The code on the card has six characters, letters and digits.';
    changed();
  },
};

/** @type {ReturnType<typeof setTimeout> | undefined} */
let tick;
let shown = '';
let heading = '';
let secondsSaid = 0;

/** changed keeps what the phone knows and shows what follows from it. */
function changed() {
  place.save();
  draw();
}

function draw() {
  local.now = Date.now();
  local.triedAt = line.triedAt;
  local.line = line.state;
  local.lock = outbox.lock();
  local.sit = outbox.sit();
  const name = screenOf(place.view, local);
  dress();
  render(screens[name](place.view, local, act), root);
  arrive(name);
  sayTime(name);
  clearTimeout(tick);
  const next = nextTick(name);
  if (next > 0) tick = setTimeout(draw, next);
}

/**
 * nextTick gives the ms until the screen changes by itself, 0 for never.
 * @param {string} name
 */
function nextTick(name) {
  if (name === 'kept') return keptLeft(local) + 10;
  if (name === 'rinse' && local.rinse) return ((local.rinse.until - local.now) % 1000) + 10;
  return local.lock ? 1000 : 0;
}

/**
 * arrive moves the focus to the heading of a new screen, and says a heading
 * that changed while its screen stayed.
 * @param {string} name
 */
function arrive(name) {
  const h1 = root.querySelector('h1');
  const text = h1?.textContent?.trim() ?? '';
  const now = `${name} ${place.view?.front ? placeOf(place.view.front) : ''}`;
  if (now !== shown) {
    document.title = place.view?.seat ? `Seat ${place.view.seat}: ${text}` : text;
    // The first screen of a page is read from the top anyway.
    if (shown) {
      scrollTo(0, 0);
      h1?.focus({ preventScroll: true });
    }
    shown = now;
  } else if (text !== heading) {
    say(text);
  }
  heading = text;
}

/**
 * sayTime reads the rinse clock out at 30, 10 and 0 s only.
 * @param {string} name
 */
function sayTime(name) {
  const left = name === 'rinse' ? rinseLeft(local) : 0;
  for (const mark of [30, 10]) {
    if (secondsSaid > mark && left <= mark && left > 0) say(`${left} seconds left.`);
  }
  if (secondsSaid > 0 && left === 0 && rinseLeft(local) === 0) say('The rinse is over.');
  secondsSaid = left;
}

/**
 * say has a screen reader speak when it is free.
 * @param {string} text
 */
function say(text) {
  live.textContent = text;
}

let dressed = '';

/** dress puts the theme on the page: the taster's choice, else the host's wish, else the phone's. */
function dress() {
  const html = document.documentElement;
  const wanted = local.theme === 'phone' ? '' : local.theme || (place.view?.light === 'red' ? 'red' : '');
  if (wanted) html.dataset.theme = wanted;
  else delete html.dataset.theme;
  const paper = getComputedStyle(html).getPropertyValue('--paper').trim();
  if (paper + wanted === dressed) return;
  dressed = paper + wanted;
  document.querySelector('meta[name=theme-color]')?.setAttribute('content', paper);
  write('oddcup.shown', wanted);
}

/** @param {KeyboardEvent} e */
function onKey(e) {
  if (!shown.startsWith('check') || e.ctrlKey || e.altKey || e.metaKey) return;
  if (/^[0-9]$/.test(e.key)) act.press(e.key);
  else if (e.key === 'Backspace') act.press('back');
  else if (e.key === 'Delete' || e.key === 'Escape') act.press('clear');
  else return;
  e.preventDefault();
}

root.textContent = '';
if (/^[0-9A-Z]{6}$/.test(door)) {
  line.wake();
  const wake = () => {
    if (document.visibilityState !== 'visible') return;
    line.wake();
    draw();
  };
  document.addEventListener('visibilitychange', wake);
  for (const what of ['online', 'offline', 'pageshow']) addEventListener(what, wake);
} else {
  local.refused = {
    why: 'door', final: true, say: 'This address opens no session.', next: 'Scan the code on the card again, or type what stands beneath it.',
  };
}
document.addEventListener('keydown', onKey);
matchMedia('(prefers-color-scheme: dark)').addEventListener('change', draw);
draw();
