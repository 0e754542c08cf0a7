// The ends: all sets in, own results, the session over.

import { codeText, frame, inWords, title } from '../frame.js';
import { mark, tape } from '../glyphs.js';
import { pairsOf, place } from '../place.js';
import { told } from './answer.js';
import { html } from '../vendor/htm-preact-3.1.1.js';

/** @typedef {import('../frames.js').Result} Result */
/** @typedef {import('../types.js').VNode} VNode */

/**
 * allIn says how many sets are in, as a sentence.
 * @param {import('../frames.js').View} v
 */
function allIn(v) {
  const n = new Set(v.kept.map((k) => k.set)).size;
  if (n < v.sets) return n === 0 ? 'The tasting is over.' : `${inWords(n)[0].toUpperCase()}${inWords(n).slice(1)} of ${v.sets} sets ${n === 1 ? 'is' : 'are'} in.`;
  return n === 1 ? 'Your set is in.' : n === 2 ? 'Both sets are in.' : `All ${inWords(n)} sets are in.`;
}

/**
 * row draws codes side by side, with words before some of them.
 * @param {number[]} codes
 * @param {VNode[]} [before]
 */
function row(codes, before = []) {
  return html`<p class="codes">${codes.map((c, i) => html`${before[i] && html`<span>${before[i]}</span>`}
    ${tape(codeText(c), 'tape-small', { wide: 296, tall: 172 })}`)}</p>`;
}

/**
 * rows draws pairs, one below the other.
 * @param {number[][]} pairs
 */
function rows(pairs) {
  return pairs.map((p) => row(p, ['', 'with']));
}

/**
 * answered draws an answer: its cup, or its pairs.
 * @param {import('../frames.js').Kept} k
 * @param {import('../types.js').Local} local
 */
function answered(k, local) {
  const pairs = pairsOf(k, local.checked[place({ n: k.set, take: k.take })]);
  return pairs.length ? rows(pairs) : row([k.pick]);
}

/**
 * done: nothing more to taste; the key is still closed.
 * @type {import('./index.js').Screen}
 */
export function done(view, local, act) {
  const v = /** @type {import('../frames.js').View} */ (view);
  return frame(view, local, act, {
    name: 'done',
    body: html`
      <p class="over">${v.title}</p>
      ${title(allIn(v))}
      <p class="lead">${v.say || 'Thank you. What was in the cups stays sealed until the host opens the key.'}</p>
      ${v.kept.length > 0 && html`<ul class="points" role="list">${v.kept.map((k) => html`<li>
        ${mark('locked', 'final')}<div><h2>Set ${k.set}</h2>${answered(k, local)}
          ${told(k) && html`<p class="told">${mark(k.right ? 'done' : 'notdone')} <span>${told(k)}</span></p>`}</div></li>`)}</ul>`}
      <p class="lead">You can close this page. Own results, if the host shows them, come to this same address.</p>`,
  });
}


/**
 * results: own answers, each with what guessing alone gives. No total, no rank.
 * @type {import('./index.js').Screen}
 */
export function results(view, local, act) {
  const v = /** @type {import('../frames.js').View} */ (view);
  const all = v.results ?? [];
  return frame(view, local, act, {
    name: 'results',
    set: false,
    body: html`
      <p class="over">${v.title}</p>
      ${title(allIn(v))}
      <p class="lead">Thank you. The key is open; ${all.length ? 'these are your own results.' : 'the host shows no own results on phones.'}</p>
      ${all.length > 0 && html`<ul class="points" role="list">${all.map((r) => html`<li>
        ${mark(r.right ? 'done' : 'notdone')}<div>
          <h2>${`Set ${r.n}: ${head(r)}`}</h2>
          ${r.answerAlso ? rows(pairsOf({ pick: r.answer, also: r.answerAlso }, r.codes)) : row(r.codes, [wordsOf(r).first])}
          <p>${detail(r)}</p>
        </div></li>`)}</ul>
        <p class="lead">${weight(all.length)} The panel’s count does the work.</p>`}
      <p class="lead ink">You can close this page now.</p>`,
  });
}

/**
 * What a right answer did, what another one was, what the cup asked for was, what
 * guessing alone does, and what stands before the first code. Methods that ask for
 * a named attribute share a row.
 * @type {Record<string, {found: string, missed: string, was: string, luck: string, first?: VNode}>}
 */
const WORDS = {
  triangle: { found: 'you found the odd cup.', missed: 'it was another cup.', was: 'was the odd one', luck: 'finds it' },
  'duo-trio': { found: 'you found the cup.', missed: 'it was the other cup.', was: 'was the same as the reference', luck: 'is right', first: html`R<span class="unseen">, the reference:</span>` },
  tetrad: { found: 'you found the two pairs.', missed: 'the pairs were different.', was: '', luck: 'is right' },
  '': { found: 'you found the cup.', missed: 'it was another cup.', was: 'was the one asked for', luck: 'is right' },
};

/** @param {Result} r */
function wordsOf(r) {
  const w = WORDS[r.method] ?? WORDS[''];
  return r.codes.length === 2 ? { ...w, missed: 'it was the other cup.' } : w;
}

/** @param {Result} r */
function head(r) {
  if (!r.pick) return 'no answer is kept.';
  const w = wordsOf(r);
  return r.right ? w.found : w.missed;
}

/** @param {Result} r */
function detail(r) {
  const w = wordsOf(r);
  /** @param {{pick: number, also?: number}} a */
  const sorted = (a) => pairsOf(a, r.codes).map((p) => p.map(codeText).join(' with ')).join(', ');
  const chance = `Guessing alone ${w.luck} ${r.chance}.`;
  if (r.answerAlso) return `${r.pick && !r.right ? `You sorted ${sorted(r)}. ` : ''}${r.pick ? chance : ''}`;
  const was = `${codeText(r.answer)} ${w.was}.`;
  if (!r.pick) return was;
  if (r.right) return `${was} ${chance}`;
  return r.codes.length === 2 ? `You picked ${codeText(r.pick)}. ${chance}` : `You picked ${codeText(r.pick)}; ${was} ${chance}`;
}

/** @param {number} n answers shown */
function weight(n) {
  if (n === 1) return 'One answer says nothing about how well you taste.';
  const word = inWords(n);
  return n === 2 ? 'Two answers say nothing about how well you taste.'
    : `${word[0].toUpperCase()}${word.slice(1)} answers say little about how well you taste.`;
}

/**
 * over: the session has ended without anything more for this phone.
 * @type {import('./index.js').Screen}
 */
export function over(view, local, act) {
  const v = /** @type {import('../frames.js').View} */ (view);
  return frame(view, local, act, {
    name: 'over',
    set: false,
    body: html`<div class="mid">
      <p class="over">${v.title}</p>
      ${title(v.say || 'This session is over.')}
      <p class="lead">${v.kept.length > 0 ? 'What you locked is with the host. ' : ''}Thank you for coming. You can close this page.</p>
    </div>`,
  });
}
