// An answer that is locked: on this phone, then kept.

import { clockText, codeText, frame, title } from '../frame.js';
import { cup, mark, ring, tape } from '../glyphs.js';
import { isLast, pairsOf, place } from '../place.js';
import { html } from '../vendor/htm-preact-3.1.1.js';

/**
 * answer draws a cup and its code, or the two pairs, in the same place for "on
 * this phone" and "kept", so that the second loop is the only thing that moves
 * between them.
 * @param {number} pick
 * @param {number[][]} pairs  none for an answer of one cup
 * @param {'pick' | 'kept'} state
 */
function answer(pick, pairs, state) {
  return pairs.length
    ? html`<div class="answer pairs">${pairs.map((pair) => html`<p class="pair">
        ${pair.map((c) => tape(codeText(c), 'tape-pair', { wide: 296, tall: 172 }))}${ring(state)}</p>`)}</div>`
    : html`<div class="answer">${cup(state)}${tape(codeText(pick), 'tape-answer', { wide: 338, tall: 174, gap: 28 })}</div>`;
}

/**
 * words names an answer: a code, or codes with the ones they go with.
 * @param {number} pick
 * @param {number[][]} pairs
 */
function words(pick, pairs) {
  return pairs.length ? pairs.map((p) => p.map(codeText).join(' with ')).join(' and ') : codeText(pick);
}

/**
 * told says whether an answer was right, where the host told; else it is ''.
 * @param {import('../frames.js').Kept} kept
 */
export function told({ right, answer, answerAlso }) {
  if (right === undefined) return '';
  if (right || !answer) return right ? 'This answer is right.' : 'This answer is not right.';
  return `This answer is not right: ${codeText(answer)}${answerAlso ? ` goes with ${codeText(answerAlso)}` : ' is'}.`;
}

/**
 * onphone: locked here, not yet on the host's disk. Still pencil.
 * @type {import('./index.js').Screen}
 */
export function onphone(view, local, act) {
  const lock = /** @type {import('../frames.js').Lock} */ (local.lock);
  const pairs = pairsOf(lock, local.checked[place({ n: lock.set, take: lock.take })]);
  const ago = Math.max(0, Math.round((local.now - local.triedAt) / 1000));
  return frame(view, local, act, {
    name: 'onphone',
    key: 'answer',
    body: html`<div class="mid">
      ${answer(lock.pick, pairs, 'pick')}
      ${title(html`${mark('onphone')} On this phone`, 'state')}
      <p class="lead ink">${words(lock.pick, pairs)} ${pairs.length > 1 ? 'are' : 'is'} locked here and not yet with the host. It will be sent as soon as the laptop answers. Nothing to tap.</p>
      <p class="lead">Keep this page open. Last tried ${ago === 1 ? '1 second' : `${ago} seconds`} ago.</p>
    </div>`,
  });
}

/**
 * kept: on the host's disk, and only shown once the host has said so.
 * @type {import('./index.js').Screen}
 */
export function kept(view, local, act) {
  const k = /** @type {import('../frames.js').Kept} */ (local.flash?.kept);
  const pairs = pairsOf(k, local.checked[place({ n: k.set, take: k.take })]);
  const next = isLast(view, k) ? 'That was the last set.' : `${local.rinse ? 'Rinse next. ' : ''}Set ${k.set + 1} follows.`;
  return frame(view, local, act, {
    name: 'kept',
    key: 'answer',
    body: html`<div class="mid">
      ${answer(k.pick, pairs, 'kept')}
      ${title(html`${mark('locked')} Kept`, 'state')}
      ${told(k) && html`<p class="told">${mark(k.right ? 'done' : 'notdone')} <span>${told(k)}</span></p>`}
      <p class="lead ink">${words(k.pick, pairs)} is your answer to set ${k.set}. It has been on the host’s disk since ${clockText(k.at)} and cannot be changed.</p>
      <p class="lead">${next}</p>
    </div>`,
  });
}
