import { codeText, frame, primary, title } from '../frame.js';
import { cup, digits, mark, tape, ties } from '../glyphs.js';
import { place } from '../place.js';
import { html } from '../vendor/htm-preact-3.1.1.js';

const WHERE = { 1: [''], 2: ['left', 'right'], 3: ['left', 'middle', 'right'] };

/** @typedef {import('../frames.js').SetInFront} SetInFront */

/**
 * taste: the tray as it stands, left to right. A pick is pencil and can be
 * changed; the lock is a second act.
 * @type {import('./index.js').Screen}
 */
export function taste(view, local, act) {
  const set = /** @type {SetInFront} */ (view?.front);
  const pick = local.pick?.key === place(set) ? local.pick : null;
  const codes = pick?.codes ?? [];
  const whole = codes.length === set.picks;
  const n = set.codes.length;
  /** @type {string[]} */
  const where = WHERE[/** @type {2} */ (n)] ?? set.codes.map((_, i) => `cup ${i + 1} of ${n}`);
  const two = set.picks > 1;
  return frame(view, local, act, {
    name: 'taste',
    body: html`
      ${set.again && html`<p class="over">New tray for set ${set.n}</p>`}
      ${title(set.question)}
      ${set.define && html`<p class="define">${set.define}</p>`}
      ${set.hint && html`<p class="lead">${set.hint}</p>`}
      <div class="tray cups-${n}">
        ${set.codes.slice(0, set.references).map((c) => html`<p class="column reference" key=${c}>
          <span class="lettered">${cup('standing')}<span aria-hidden="true">R</span></span>
          ${drawn(c)}
          <span class="word">reference</span>
          <span class="unseen">, ${where[0]}, to compare with and not to pick</span>
        </p>`)}
        <div class="row" role=${two ? 'group' : 'radiogroup'} aria-label=${two ? 'your picks' : 'your pick'}>
          ${set.codes.map((c, i) => i >= set.references && column(c, codes.includes(c), where[i]))}
        </div>
        ${two && ties(n, whole ? pairsAt(set, codes) : [])}
      </div>
      ${two && html`<p class="said" role="status">${local.fault ? html`${mark('caution')} <strong>${local.fault}</strong>` : whole && sorting(set, codes)}</p>`}
      ${whole && html`<label class="tick">
        <input type="checkbox" checked=${pick?.guess} onChange=${(/** @type {Event} */ e) => act.guess(/** @type {HTMLInputElement} */ (e.target).checked)} />
        <span>I was guessing</span></label>`}`,
    acts: whole
      ? primary(html`<span>Lock</span> ${codes.map((c, i) => html`${i > 0 && html`<span>with</span>`} ${digits(codeText(c))}`)}`, act.lock)
      : html`<p class="waiting">${ask(set, codes)}</p>`,
  });

  /**
   * column is a cup that can be picked: one of several, or one of two alike.
   * @param {number} c
   * @param {boolean} on
   * @param {string} at
   */
  function column(c, on, at) {
    const full = two && whole && !on;
    return html`<label class=${on ? 'column on' : 'column'} key=${c}>
      ${two
        ? html`<input type="checkbox" checked=${on} aria-label="cup ${codeText(c)}, ${at.slice(4)}" aria-disabled=${full ? 'true' : undefined}
            onClick=${(/** @type {Event} */ e) => {
              if (!full) return;
              e.preventDefault(); // it stays as it is, and the page says why
              act.pick(c);
            }} onChange=${() => act.pick(c)} />`
        : html`<input type="radio" name="pick" checked=${on} onChange=${() => act.pick(c)} />`}
      ${cup(on ? 'pick' : 'standing')}
      ${drawn(c)}
      ${!two && html`<span class="unseen">, ${at}</span>
      <span class="word" aria-hidden="true">${on ? 'your pick' : ''}</span>`}
    </label>`;
  }

  /** @param {number} c */
  function drawn(c) {
    return tape(codeText(c), 'tape-cup', { wide: two ? 264 : 296, tall: two ? 176 : 182 });
  }
}

/**
 * ask says what the answer still lacks.
 * @param {SetInFront} set
 * @param {number[]} codes
 */
function ask(set, codes) {
  if (set.picks > 1) return codes.length ? `Tap the cup that goes with ${codeText(codes[0])}` : 'Tap two cups that go together';
  return set.references ? 'Tap one of the two cups to pick it' : 'Tap one cup to pick it';
}

/**
 * pairsAt gives the picked pair and the other one as places on the tray.
 * @param {SetInFront} set
 * @param {number[]} codes
 */
function pairsAt(set, codes) {
  const at = set.codes.map((_, i) => i);
  return [at.filter((i) => codes.includes(set.codes[i])), at.filter((i) => !codes.includes(set.codes[i]))];
}

/**
 * sorting says what picking two means for the others.
 * @param {SetInFront} set
 * @param {number[]} codes
 */
function sorting(set, codes) {
  const [one, other] = pairsAt(set, codes).map((pair) => pair.map((i) => codeText(set.codes[i])).join(' and '));
  return `${one} are one pair, ${other} the other.`;
}
