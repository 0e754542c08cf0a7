// Is it the right tray: checked before any question is in sight.

import { codeText, frame, points, primary, title } from '../frame.js';
import { GAP, digits, tape } from '../glyphs.js';
import { html } from '../vendor/htm-preact-3.1.1.js';

const KEYS = ['1', '2', '3', '4', '5', '6', '7', '8', '9', 'clear', '0', 'back'];

/**
 * check: the leftmost code is typed before any question is in sight.
 * @type {import('./index.js').Screen}
 */
export function check(view, local, act) {
  const set = /** @type {import('../frames.js').SetInFront} */ (view?.front);
  const missing = 3 - local.typed.length;
  return frame(view, local, act, {
    name: 'check',
    body: html`
      ${set.again && html`<p class="over">A new tray for set ${set.n}, with new codes</p>`}
      ${title('Is this your tray?')}
      <p class="lead">Type the code on the leftmost cup.</p>
      ${tape(local.typed.padEnd(3, '_'), 'tape-alone', {
        wide: 405, tall: 170, gap: GAP.alone,
        label: local.typed ? `${local.typed}, ${missing} to come` : 'nothing typed yet',
      })}
      <div class="keypad" role="group" aria-label="keypad">${KEYS.map((k) => html`
        <button type="button" onClick=${() => act.press(k)}>${k.length === 1 ? digits(k) : k}</button>`)}
      </div>`,
  });
}

/**
 * wrong: what was typed, what to look at, what to do if it is true.
 * @type {import('./index.js').Screen}
 */
export function wrong(view, local, act) {
  const set = /** @type {import('../frames.js').SetInFront} */ (view?.front);
  const code = local.wrong;
  const onTray = set.codes.some((c) => codeText(c) === code);
  const old = set.old?.some((c) => codeText(c) === code);
  return frame(view, local, act, {
    name: 'wrong',
    body: html`
      ${title(`${code} is not the leftmost cup of this tray.`)}
      ${tape(code, 'tape-alone', { wide: 405, tall: 170, gap: GAP.alone })}
      ${points([
        { mark: 'caution', head: 'Look again, far left.', text: html`<p>The line under the digits shows which way is up.</p>` },
        onTray
          ? { mark: 'here', head: `It does say ${code}?`, text: html`<p>That cup is yours, but stands elsewhere. The tray may be turned round: ask the host before you move a cup.</p>` }
          : old
          ? { mark: 'calling', head: `It does say ${code}?`, text: html`<p>Then it is the tray that was taken back. Do not taste. The one poured again has other codes: wait for it, or call the host.</p>` }
          : { mark: 'calling', head: `It does say ${code}?`, text: html`<p>Then the tray is another seat’s. Do not taste. Call the host; it will be changed.</p>` },
      ])}`,
    acts: primary('Type it again', act.retype),
  });
}
