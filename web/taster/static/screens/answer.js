// An answer that is locked: on this phone, then kept.

import { clockText, codeText, frame, title } from '../frame.js';
import { cup, mark, tape } from '../glyphs.js';
import { isLast } from '../place.js';
import { html } from '../vendor/htm-preact-3.1.1.js';

/**
 * answer draws a cup and its code in the same place for "on this phone" and
 * "kept", so that the second loop is the only thing that moves between them.
 * @param {number} code
 * @param {'pick' | 'kept'} state
 */
function answer(code, state) {
  return html`<div class="answer">${cup(state)}${tape(codeText(code), 'tape-answer', { wide: 338, tall: 174, gap: 28 })}</div>`;
}

/**
 * onphone: locked here, not yet on the host's disk. Still pencil.
 * @type {import('./index.js').Screen}
 */
export function onphone(view, local, act) {
  const lock = /** @type {import('../frames.js').Lock} */ (local.lock);
  const ago = Math.max(0, Math.round((local.now - local.triedAt) / 1000));
  return frame(view, local, act, {
    name: 'onphone',
    key: 'answer',
    body: html`<div class="mid">
      ${answer(lock.pick, 'pick')}
      ${title(html`${mark('onphone')} On this phone`, 'state')}
      <p class="lead ink">${codeText(lock.pick)} is locked here and not yet with the host. It will be sent as soon as the laptop answers. Nothing to tap.</p>
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
  const next = isLast(view, k) ? 'That was the last set.' : `${local.rinse ? 'Rinse next. ' : ''}Set ${k.set + 1} follows.`;
  return frame(view, local, act, {
    name: 'kept',
    key: 'answer',
    body: html`<div class="mid">
      ${answer(k.pick, 'kept')}
      ${title(html`${mark('locked')} Kept`, 'state')}
      <p class="lead ink">${codeText(k.pick)} is your answer to set ${k.set}. It has been on the host’s disk since ${clockText(k.at)} and cannot be changed.</p>
      <p class="lead">${next}</p>
    </div>`,
  });
}
