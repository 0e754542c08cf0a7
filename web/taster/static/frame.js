// What all screens share: header, footer, and a few small pieces.

import { mark, tape } from './glyphs.js';
import { keptLeft, rinseLeft } from './place.js';
import { html } from './vendor/htm-preact-3.1.1.js';

/**
 * @typedef {import('./frames.js').View} View
 * @typedef {import('./types.js').Local} Local
 * @typedef {import('./types.js').Act} Act
 * @typedef {import('./types.js').VNode} VNode
 */

const NUMBERS = ['no', 'one', 'two', 'three', 'four', 'five', 'six', 'seven', 'eight', 'nine', 'ten', 'eleven', 'twelve'];

/**
 * inWords writes a small count as a word, a large one in figures.
 * @param {number} n
 */
export function inWords(n) {
  return NUMBERS[n] ?? String(n);
}

/**
 * sentence writes a plan's words as the start of a sentence and ends it.
 * @param {string} words
 */
export function sentence(words) {
  const s = words.trim();
  if (!s) return '';
  return s[0].toUpperCase() + s.slice(1) + (/[.!?)]$/.test(s) && !s.endsWith(')') ? '' : '.');
}

/**
 * codeText writes a code as it stands on a cup: three digits.
 * @param {number} code
 */
export function codeText(code) {
  return String(code).padStart(3, '0');
}

/**
 * clockText gives the phone's time of day for a time of the host's.
 * @param {string} at  RFC 3339
 */
export function clockText(at) {
  const t = new Date(at);
  return [t.getHours(), t.getMinutes(), t.getSeconds()].map((n) => String(n).padStart(2, '0')).join(':');
}

/**
 * currentSet gives the number of the set that the header names: 0 for none.
 * @param {View} view
 * @param {Local} l
 */
function currentSet(view, l) {
  if (l.lock) return l.lock.set;
  if (l.flash && keptLeft(l) > 0) return l.flash.kept.set;
  if (l.rinse && rinseLeft(l) > 0) return l.rinse.set;
  if (view.front) return view.front.n;
  if (view.step !== 'wait') return 0;
  return Math.min(view.sets, new Set(view.kept.map((k) => k.set)).size + 1);
}

/**
 * link gives mark and words of the line to the host.
 * @param {View | null} view
 * @param {Local} l
 * @returns {[string, string, string?]}
 */
function link(view, l) {
  if (l.line === 'shut') return ['empty', 'line closed'];
  if (view && (view.step === 'results' || view.step === 'over')) return ['done', 'finished'];
  if (l.line === 'new') return ['expected', 'looking', 'for the host'];
  if (l.line === 'down') return ['away', 'no line,', 'working on it'];
  if (l.lock && l.now - Date.parse(l.lock.at) > 1500) return ['away', 'no answer yet'];
  return ['here', 'in touch'];
}

/**
 * frame sets a screen between header and footer.
 * @param {View | null} view
 * @param {Local} l
 * @param {Act} act
 * @param {Object} o
 * @param {string} o.name     of the screen, for the style sheet
 * @param {string} [o.key]    screens with one key keep their drawings when one follows the other
 * @param {boolean} [o.set]   the header names the set
 * @param {VNode} o.body
 * @param {VNode} [o.acts]    at most one of them primary
 * @param {boolean} [o.bare]  no call and no screen switch below
 */
export function frame(view, l, act, o) {
  const [shape, word, more] = link(view, l);
  const n = view && o.set !== false ? currentSet(view, l) : 0;
  const seated = view && view.seat > 0 && view.step !== 'door';
  return html`<div class="page page-${o.name}" key=${o.key ?? o.name}>
    <header class="head">
      ${seated
        ? html`<span class="seat"><strong>Seat</strong> ${tape(String(view.seat), 'tape-seat', { wide: seatWide(view.seat), tall: 170, gap: 20 })}</span>
          ${n > 0 && html`<span class="setof">Set ${n} of ${view.sets}</span>`}`
        : html`<strong class="headword">${view ? (view.seat > 0 ? 'Seat card read' : view.title) : 'Tasting'}</strong>`}
      <span class="link">${mark(shape)} <span>${word}${more && html` <span class="more">${more}</span>`}</span></span>
    </header>
    <main class="body">
      ${!l.lasting && html`<p class="notice">${mark('caution')} <span>This browser keeps nothing between visits. Leave this page open until the end.</span></p>`}
      ${view?.practice && html`<p class="notice">${mark('empty')} <span>Practice: you are told at once whether an answer is right. Nothing counts.</span></p>`}
      ${view?.demo && html`<p class="notice">${mark('empty')} <span>A demonstration: everything in it is invented and nothing counts.</span></p>`}
      ${o.body}
    </main>
    <footer class="foot">
      ${o.acts}
      ${!o.bare && html`<div class="quiet">
        ${seated && view.step !== 'over' && view.step !== 'results' && callAct(view, l, act)}
        <span class="aside"><button type="button" class="text screen" onClick=${() => act.open('light')}>Screen</button></span>
      </div>`}
    </footer>
  </div>`;
}

/** @param {number} seat */
function seatWide(seat) {
  const n = String(seat).length;
  return 60 * n + 20 * (n - 1) + 100;
}

/**
 * @param {View} view
 * @param {Local} l
 * @param {Act} act
 */
function callAct(view, l, act) {
  const called = (view.calling || l.wish !== '') && l.wish !== 'uncall';
  return html`<button type="button" class="text call ${called ? 'called' : ''}" onClick=${() => act.open(called ? 'called' : 'call')}>
    ${mark('calling')} <span>${called ? 'The host is called' : 'Call the host'}</span></button>`;
}

/**
 * primary is a screen's one next act.
 * @param {VNode} words
 * @param {() => void} go
 */
export function primary(words, go) {
  return html`<button type="button" class="primary" onClick=${go}>${words}</button>`;
}

/**
 * equal is an act of the same rank as the primary one, not the expected one.
 * @param {VNode} words
 * @param {() => void} go
 */
export function equal(words, go) {
  return html`<button type="button" class="equal" onClick=${go}>${words}</button>`;
}

/**
 * title is the one h1; it takes the focus when the screen changes.
 * @param {VNode} words
 * @param {string} [cls]
 */
export function title(words, cls = '') {
  return html`<h1 class=${cls} tabindex="-1">${words}</h1>`;
}

/**
 * points is a list of things to look at or do, each with a mark.
 * @param {{mark: string, head?: VNode, text: VNode}[]} items
 */
export function points(items) {
  return html`<ul class="points" role="list">${items.map((i) => html`<li>
    ${mark(i.mark)}<div>${i.head && html`<h2>${i.head}</h2>`}${i.text}</div>
  </li>`)}</ul>`;
}
