// The ends: all sets in, own results, the session over.

import { codeText, frame, inWords, title } from '../frame.js';
import { mark, tape } from '../glyphs.js';
import { html } from '../vendor/htm-preact-3.1.1.js';

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
        ${mark('locked', 'final')}<div><h2>Set ${k.set}</h2><p class="codes">${tape(codeText(k.pick), 'tape-small', { wide: 296, tall: 172 })}</p></div></li>`)}</ul>`}
      <p class="lead">You can close this page. Own results, if the host shows them, come to this same address.</p>`,
  });
}

/** @typedef {import('../frames.js').Result} Result */

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
          <p class="codes">${r.codes.map((c) => tape(codeText(c), 'tape-small', { wide: 296, tall: 172 }))}</p>
          <p>${detail(r)}</p>
        </div></li>`)}</ul>
        <p class="lead">${weight(all.length)} The panel’s count does the work.</p>`}
      <p class="lead ink">You can close this page now.</p>`,
  });
}

/** @param {Result} r */
function head(r) {
  if (!r.pick) return 'no answer is kept.';
  if (r.codes.length > 2) return r.right ? 'you found the odd cup.' : 'it was another cup.';
  return r.right ? 'you found the cup.' : 'it was the other cup.';
}

/** @param {Result} r */
function detail(r) {
  const answer = codeText(r.answer);
  const odd = r.codes.length > 2;
  const was = odd ? `${answer} was the odd one.` : `${answer} was the one asked for.`;
  const chance = odd ? `Guessing alone finds it ${r.chance}.` : `Guessing alone is right ${r.chance}.`;
  if (!r.pick) return was;
  if (r.right) return `${was} ${chance}`;
  return odd ? `You picked ${codeText(r.pick)}; ${was} ${chance}` : `You picked ${codeText(r.pick)}. ${chance}`;
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
