import { frame, primary, title } from '../frame.js';
import { html } from '../vendor/htm-preact-3.1.1.js';

/** @typedef {import('../types.js').Theme} Theme */

/**
 * light: the screen's own light. Unless chosen here, the host's wish holds.
 * @type {import('./index.js').Screen}
 */
export function light(view, local, act) {
  const red = view?.light === 'red';
  /** @type {[Theme, string][]} */
  const choices = red
    ? [['', 'Red light, as the host asks'], ['dark', 'Dark'], ['light', 'Light'], ['phone', 'As the phone']]
    : [['', 'As the phone'], ['light', 'Light'], ['dark', 'Dark'], ['red', 'Red light']];
  const same = choices.some(([value]) => value === local.theme) ? local.theme : '';
  return frame(view, local, act, {
    name: 'light',
    bare: true,
    body: html`
      ${title('This screen’s light')}
      <p class="lead">${red ? 'The lamps hide the colour of the coffee. A bright screen undoes that, for your neighbours too.' : 'Choose what your eyes like.'}</p>
      <div class="choices" role="radiogroup" aria-label="light of this screen">${choices.map(([value, words]) => html`
        <label class="option"><input type="radio" name="light" checked=${value === same} onChange=${() => act.theme(value)} /><span>${words}</span></label>`)}
      </div>`,
    acts: primary('Back', () => act.open('')),
  });
}
