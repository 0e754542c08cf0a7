// What the phone knows, and which screen that makes. All of it that must
// outlive a reload is kept, so that a reload comes back to its place.

import { read, write, randomHex, lasting } from './keep.js';

/**
 * @typedef {import('./types.js').Local} Local
 * @typedef {import('./frames.js').View} View
 * @typedef {import('./frames.js').Kept} Kept
 */

/** How long "kept" stands before the next thing, ms. */
export const KEPT_MS = 4000;

/** Form of what is kept. What an older page kept in another form is forgotten; the host has the truth. */
const FORM = 2;

/** The part of Local that is kept by door. */
const LASTING = /** @type {const} */ (['out', 'name', 'wrong', 'checked', 'pick', 'flash', 'rinse', 'wish', 'why']);

export class Place {
  /** @param {string} door */
  constructor(door) {
    this.key = `oddcup.${door}`;
    let was = read(this.key);
    if (was?.form !== FORM) was = {};
    /** @type {View | null} */
    this.view = was.view ?? null;
    /** @type {Local} */
    this.local = {
      now: Date.now(), line: 'new', triedAt: 0, lasting: lasting(), refused: null, page: '', fault: '', typed: '', code: '',
      out: false, name: '', wrong: '', checked: {}, pick: null, flash: null, rinse: null, wish: '', why: '',
      ...was.local,
      theme: read('oddcup.theme') ?? '',
    };
    const token = read(this.key + '.token');
    this.token = typeof token === 'string' ? token : randomHex();
    if (token !== this.token) write(this.key + '.token', this.token);
  }

  /** save keeps what must outlive a reload. */
  save() {
    const local = Object.fromEntries(LASTING.map((k) => [k, this.local[k]]));
    write(this.key, { form: FORM, view: this.view, local });
    this.local.lasting = lasting();
  }

  /**
   * take puts the host's newest view in place of the one before and lets go of
   * what it has overtaken.
   * @param {View} view
   */
  take(view) {
    const l = this.local;
    const before = this.view?.front;
    this.view = view;
    if (!view.front || !before || place(view.front) !== place(before)) {
      l.typed = '';
      l.wrong = '';
      if (view.front) l.page = l.fault = ''; // another tray stands in front: it comes first
    }
    if (l.pick && view.front && l.pick.key !== place(view.front)) l.pick = null;
    if (view.calling ? l.wish && l.wish !== 'uncall' : l.wish === 'uncall') l.wish = '';
    if (!view.calling && !l.wish) {
      l.why = '';
      if (l.page === 'called') l.page = '';
    }
    if (view.seat > 0 && view.step !== 'door') l.out = false;
    if (view.step === 'done' || view.step === 'over' || view.step === 'results') l.rinse = null;
  }

  /**
   * keep shows an answer as kept for a while and sets the rinse clock to follow.
   * @param {Kept} kept
   */
  keep(kept) {
    const l = this.local;
    const until = l.now + KEPT_MS;
    l.flash = { kept, until };
    l.page = '';
    const rinse = this.view?.rinse ?? 0;
    l.rinse = rinse > 0 && !isLast(this.view, kept) ? { set: kept.set, until: until + rinse * 1000, of: rinse } : null;
  }
}

/**
 * place names a set as it stands in front of the seat, with its replacements.
 * @param {{n: number, take: number}} set
 */
export function place(set) {
  return `${set.n}/${set.take}`;
}

/**
 * picked gives the codes in pencil after a tap on one of a tray's cups, from
 * left to right: the tapped cup alone, or where an answer names two, one more or
 * one less. When two are picked already, a third changes nothing: no loop goes
 * from a cup that was not touched.
 * @param {import('./frames.js').SetInFront} set
 * @param {number[]} codes
 * @param {number} code
 */
export function picked(set, codes, code) {
  if (set.picks < 2) return [code];
  if (codes.length >= set.picks && !codes.includes(code)) return codes;
  return set.codes.filter((c) => codes.includes(c) !== (c === code));
}

/**
 * pairsOf sorts a tray's cups as an answer of two does: the pair of the leftmost
 * cup, then the other one. Two answers that name either pair sort alike, so they
 * look alike. Where the tray's codes are not known it is the named pair alone;
 * for an answer of one cup there are none.
 * @param {{pick: number, also?: number}} answer
 * @param {number[]} [codes]  as they stand on the tray
 * @returns {number[][]}
 */
export function pairsOf({ pick, also }, codes) {
  if (!also) return [];
  const named = [pick, also];
  if (!codes || !named.every((c) => codes.includes(c))) return [named];
  const one = codes.filter((c) => named.includes(c));
  const other = codes.filter((c) => !named.includes(c));
  return one[0] === codes[0] ? [one, other] : [other, one];
}

/**
 * isLast reports whether no set follows this answer.
 * @param {View | null} view
 * @param {Kept} kept
 */
export function isLast(view, kept) {
  if (!view) return true;
  const done = new Set([...view.kept.map((k) => k.set), kept.set]);
  return done.size >= view.sets;
}

/**
 * rinseLeft gives the seconds left on the rinse clock, rounded up; 0 when it
 * isn't running.
 * @param {Local} l
 */
export function rinseLeft(l) {
  if (!l.rinse) return 0;
  const ms = l.rinse.until - l.now;
  // More than the clock can hold: the phone's own clock was set back meanwhile.
  if (ms > l.rinse.of * 1000 + KEPT_MS) return 0;
  return Math.min(l.rinse.of, Math.max(0, Math.ceil(ms / 1000)));
}

/**
 * keptLeft gives the milliseconds for which "kept" still stands.
 * @param {Local} l
 */
export function keptLeft(l) {
  const ms = l.flash ? l.flash.until - l.now : 0;
  return ms > KEPT_MS ? 0 : Math.max(0, ms); // more: the clock was set back
}

/**
 * screenOf names the one screen for what is known. The order is the order of
 * what matters: a closed line, what the taster opened, an answer on its way,
 * the mouth, and only then what the host says.
 * @param {View | null} view
 * @param {Local} l
 */
export function screenOf(view, l) {
  if (l.refused) {
    if (l.refused.why === 'moved' || l.refused.why === 'door') return l.refused.why;
    return 'refused';
  }
  if (!view) return 'connecting';
  if (l.page === 'light') return 'light';
  if (view.step === 'door') return l.out ? 'out' : !view.here ? 'closed' : l.page === 'card' ? 'door' : 'join';
  if (l.page === 'call' || l.page === 'called') return l.page;
  if (l.lock) return 'onphone';
  if (keptLeft(l) > 0) return 'kept';
  if (view.step === 'done' || view.step === 'over' || view.step === 'results') return view.step;
  if (rinseLeft(l) > 0) return 'rinse';
  if (view.paused) return 'paused';
  if (view.step !== 'set' || !view.front) return 'wait';
  const { n, take } = view.front;
  if (view.kept.some((k) => k.set === n && k.take === take)) return 'wait';
  if (l.checked[place(view.front)]) return 'taste';
  return l.wrong ? 'wrong' : 'check';
}
