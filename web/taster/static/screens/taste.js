import { codeText, frame, primary, title } from '../frame.js';
import { cup, digits, tape } from '../glyphs.js';
import { place } from '../place.js';
import { html } from '../vendor/htm-preact-3.1.1.js';

const WHERE = { 1: [''], 2: ['left', 'right'], 3: ['left', 'middle', 'right'] };

/**
 * taste: the tray as it stands, left to right. A pick is pencil and can be
 * changed; the lock is a second act.
 * @type {import('./index.js').Screen}
 */
export function taste(view, local, act) {
  const set = /** @type {import('../frames.js').SetInFront} */ (view?.front);
  const pick = local.pick?.key === place(set) ? local.pick : null;
  const n = set.codes.length;
  /** @type {string[]} */
  const where = WHERE[/** @type {2} */ (n)] ?? set.codes.map((_, i) => `cup ${i + 1} of ${n}`);
  return frame(view, local, act, {
    name: 'taste',
    body: html`
      ${set.again && html`<p class="over">New tray for set ${set.n}</p>`}
      ${title(set.question)}
      ${set.define && html`<p class="define">${set.define}</p>`}
      ${set.hint && html`<p class="lead">${set.hint}</p>`}
      <div class="tray cups-${n}" role="radiogroup" aria-label="your pick">
        ${set.codes.map((c, i) => {
          const on = pick?.code === c;
          return html`<label class=${on ? 'column on' : 'column'} key=${c}>
            <input type="radio" name="pick" checked=${on} onChange=${() => act.pick(c)} />
            ${cup(on ? 'pick' : 'standing')}
            ${tape(codeText(c), 'tape-cup', { wide: 296, tall: 182 })}
            <span class="unseen">, ${where[i]}</span>
            <span class="word" aria-hidden="true">${on ? 'your pick' : ''}</span>
          </label>`;
        })}
      </div>
      ${pick && html`<label class="tick">
        <input type="checkbox" checked=${pick.guess} onChange=${(/** @type {Event} */ e) => act.guess(/** @type {HTMLInputElement} */ (e.target).checked)} />
        <span>I was guessing</span></label>`}`,
    acts: pick
      ? primary(html`<span>Lock</span> ${digits(codeText(pick.code))}`, act.lock)
      : html`<p class="waiting">Tap one cup to pick it</p>`,
  });
}
