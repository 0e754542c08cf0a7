import { equal, frame, points, sentence, title } from '../frame.js';
import { mark, tape } from '../glyphs.js';
import { html } from '../vendor/htm-preact-3.1.1.js';

/**
 * join: which seat, with a way to the code of a card where the address gives
 * none, what is kept and who sees it, what may hurt, and two ways
 * on of equal rank. No reason is asked of who sits out.
 * @type {import('./index.js').Screen}
 */
export function join(view, local, act) {
  const v = /** @type {import('../frames.js').View} */ (view);
  const seat = v.seat > 0;
  return frame(view, local, act, {
    name: 'join',
    body: html`
      ${seat && html`<p class="over">${v.title}</p>`}
      ${title(seat ? 'This is seat' : 'Take a seat.')}
      ${seat ? tape(String(v.seat), 'tape-big', { wide: 215, tall: 170, gap: 42 })
        : html`<p class="lead">The host’s laptop gives you the next free one. Does a seat card with a code lie before you? Then that seat is yours.</p>
          ${equal('I have a seat card', () => act.open('card'))}`}
      ${v.say && html`<p class="lead ink">${v.say}</p>`}
      <form class="ask" id="sit" onSubmit=${(/** @type {SubmitEvent} */ e) => {
        e.preventDefault();
        act.sit(new FormData(/** @type {HTMLFormElement} */ (e.target)).get('name')?.toString() ?? '');
      }}>
        <label for="name">Your name, as the host knows it</label>
        <input id="name" name="name" maxlength="40" autocomplete="given-name" spellcheck="false" enterkeyhint="done"
          value=${local.name} readonly=${!!local.sit}
          aria-describedby=${local.fault ? 'fault' : undefined} aria-invalid=${local.fault ? 'true' : undefined} />
        ${local.fault && html`<p class="fault" id="fault">${mark('caution')} <span>${local.fault}</span></p>`}
      </form>
      ${points([
        { mark: 'sealed', text: html`<p>Your answers are kept under a number. The host sees your name; the report does not carry it.</p>` },
        { mark: 'caution', text: html`<p>Hot coffee${v.serving && `, ${v.serving}`}: try a small sip first.
          In all ${v.cups} ${v.cups === 1 ? 'cup' : 'cups'}${v.caffeine ? `; caffeine: ${v.caffeine}` : ''}. ${sentence(v.swallow)}</p>
          <p>${v.allergens ? html`<strong>Allergens:</strong> ${sentence(v.allergens)}` : 'No allergens are named.'}
          ${' '}If any of this is not for you, sit out.</p>` },
      ])}`,
    acts: local.sit
      ? html`<p class="waiting" role="status">${local.line === 'up' ? 'Asking the host for the seat.' : 'Asked for as soon as the laptop answers. Nothing to tap.'}</p>`
      : html`<div class="both"><button type="submit" form="sit" class="primary">${seat ? 'Take this seat' : 'Take the next free seat'}</button>
        ${equal('I would rather sit out', () => act.sitOut(true))}</div>`,
  });
}
