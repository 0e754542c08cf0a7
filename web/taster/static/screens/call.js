// Calling the host.

import { equal, frame, primary, title } from '../frame.js';
import { mark } from '../glyphs.js';
import { html } from '../vendor/htm-preact-3.1.1.js';

/** @type {[import('../frames.js').Why, string][]} */
const REASONS = [
  ['spill', 'I spilled a cup'],
  ['tray', 'This is the wrong tray'],
  ['unwell', 'I feel unwell'],
  ['other', 'Something else'],
];

/**
 * call: one tap on what it is about calls the host.
 * @type {import('./index.js').Screen}
 */
export function call(view, local, act) {
  return frame(view, local, act, {
    name: 'call',
    bare: true,
    body: html`
      ${title('What is it?')}
      <p class="lead">One tap calls the host. Nobody else sees it.</p>
      <div class="choices">${REASONS.map(([why, words]) => html`
        <button type="button" class="equal" onClick=${() => act.call(why)}>${words}</button>`)}</div>`,
    acts: primary('Back, no call', () => act.open('')),
  });
}

/** What to do until the host is there. */
const MEANWHILE = {
  spill: 'Leave the tray as it is. Hot coffee on the skin: cool it under running water at once.',
  tray: 'Do not taste. The host changes the tray.',
  unwell: 'Stop tasting. If it is serious, do not wait for the host: tell whoever is next to you to get help.',
  other: 'Leave the tray as it is.',
  '': '',
};

/**
 * called: the host's board shows the call, or will.
 * @type {import('./index.js').Screen}
 */
export function called(view, local, act) {
  const sent = view?.calling;
  return frame(view, local, act, {
    name: 'called',
    bare: true,
    body: html`<div class="mid">
      <p class="big">${mark('calling')}</p>
      ${title(sent ? 'The host is called.' : local.line === 'up' ? 'Calling the host.' : 'The call is on this phone.')}
      <p class="lead ink">${MEANWHILE[local.why]}</p>
      <p class="lead">${sent || local.line === 'up' ? 'Stay at your place; the host sees your seat’s flag.' : 'It goes out as soon as the laptop answers. Raise a hand meanwhile.'}</p>
    </div>`,
    acts: html`${primary('Back to where I was', () => act.open(''))}${equal('Take the call back', act.uncall)}`,
  });
}
