// The screens on which the taster waits for the host: a tray that is still to
// come, and words.

import { frame, title } from '../frame.js';
import { cup, tape } from '../glyphs.js';
import { html } from '../vendor/htm-preact-3.1.1.js';

/**
 * tray draws a tray whose cups are still to come. It always has three, whatever
 * comes, so that it tells nothing.
 */
function tray() {
  return html`<div class="tray awaited" aria-hidden="true">${cup('awaited')}${cup('awaited')}${cup('awaited')}</div>`;
}

/**
 * wait: what the host is doing, in a line. In the lobby the seat stands large,
 * because who came by the session's own code learns it only now.
 * @type {import('./index.js').Screen}
 */
export function wait(view, local, act) {
  const v = /** @type {import('../frames.js').View} */ (view);
  if (v.step === 'lobby') {
    return frame(view, local, act, {
      name: 'lobby',
      body: html`<div class="mid">
        <p class="over">${v.title}</p>
        ${title('You have seat')}
        ${tape(String(v.seat), 'tape-big', { wide: 215, tall: 170, gap: 42 })}
        <p class="lead ink">Sit down at the place with this number. ${v.say}</p>
        <p class="lead">Put the phone down if you like. This page goes on by itself.</p>
      </div>`,
    });
  }
  return frame(view, local, act, {
    name: 'wait',
    body: html`<div class="mid">
      ${tray()}
      ${title(v.step === 'wait' && v.say ? v.say : 'The next set comes when the others have locked.')}
      <p class="lead">Put the phone down if you like. This page goes on by itself when your tray is on its way.</p>
    </div>`,
  });
}

/**
 * closed: the door is right, but no seat is open to take now.
 * @type {import('./index.js').Screen}
 */
export function closed(view, local, act) {
  const v = /** @type {import('../frames.js').View} */ (view);
  return frame(view, local, act, {
    name: 'closed',
    body: html`<div class="mid">
      ${tray()}
      ${title(v.say || 'No seat is open now.')}
      <p class="lead">This page goes on by itself when that changes.${/ask the host/i.test(v.say) ? '' : ' Ask the host if you should be tasting.'}</p>
    </div>`,
  });
}

/**
 * paused: the host holds the session.
 * @type {import('./index.js').Screen}
 */
export function paused(view, local, act) {
  return frame(view, local, act, {
    name: 'paused',
    body: html`<div class="mid">
      ${tray()}
      ${title('The host has paused the session.')}
      <p class="lead">Leave the cups as they are and do not taste. Your pick stays where it is; this page goes on by itself.</p>
    </div>`,
  });
}
