import { frame, title } from '../frame.js';
import { GAP, digits } from '../glyphs.js';
import { rinseLeft } from '../place.js';
import { told } from './answer.js';
import { html } from '../vendor/htm-preact-3.1.1.js';

/**
 * rinse: a clock in drawn digits and a ruler, one stroke a second as far as
 * there is room. What is read aloud of it is said elsewhere, at 30, 10 and 0 s.
 * @type {import('./index.js').Screen}
 */
export function rinse(view, local, act) {
  const r = /** @type {{set: number, until: number, of: number}} */ (local.rinse);
  const left = rinseLeft(local);
  const kept = view?.kept.find((k) => k.set === r.set);
  return frame(view, local, act, {
    name: 'rinse',
    body: html`<div class="mid">
      <p class="over">After set ${r.set}${kept && told(kept) && `. ${told(kept)}`}</p>
      ${title('Rinse with water, then wait.')}
      <div role="timer" aria-label="time left">${digits(`${Math.floor(left / 60)}:${String(left % 60).padStart(2, '0')}`, 'clock', { gap: GAP.alone })}</div>
      ${ruler(r.of, left)}
      <div class="ends" aria-hidden="true"><span>${r.of} s</span><span>0</span></div>
      <p class="lead">The next tray comes after this. The count starts again if you ask for it.</p>
    </div>`,
    acts: html`<button type="button" class="text wide" onClick=${act.rinseAgain}>${r.of === 60 ? 'Start the minute again' : 'Start the count again'}</button>`,
  });
}

/**
 * @param {number} of    seconds in all
 * @param {number} left  seconds left
 */
function ruler(of, left) {
  const n = Math.min(of, 60); // more strokes than that can't be told apart on a phone
  const step = 350 / n;
  const gone = ((of - left) / of) * n;
  return html`<svg class="ruler" aria-hidden="true" viewBox="-3 -2 356 40">
    ${Array.from({ length: n + 1 }, (_, i) => html`<path class=${left < of && i <= gone ? 'gone' : ''} d=${`M${i * step} ${i % 15 === 0 || i === n ? 0 : 12}V36`} />`)}
  </svg>`;
}
