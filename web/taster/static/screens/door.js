// Before and outside the seat: no line yet, refusals, sitting out.

import { equal, frame, primary, title } from '../frame.js';
import { mark } from '../glyphs.js';
import { html } from '../vendor/htm-preact-3.1.1.js';

/**
 * connecting: nothing is known yet. Words, no spinner; after a while they say
 * what usually is the matter.
 * @type {import('./index.js').Screen}
 */
export function connecting(view, local, act) {
  return frame(view, local, act, {
    name: 'connecting',
    body: html`<div class="mid">
      ${title('Looking for the host’s laptop.')}
      <p class="lead">${local.line === 'down'
        ? 'It does not answer yet. Is the phone on the Wi-Fi that the host named, and not on mobile data? This page goes on trying by itself.'
        : 'This takes a second or two.'}</p>
    </div>`,
  });
}

/**
 * door: the code in the address opens nothing, or is not that of a seat card. The
 * card's can be typed instead.
 * @type {import('./index.js').Screen}
 */
export function door(view, local, act) {
  const r = local.refused;
  return frame(null, local, act, {
    name: 'door',
    body: html`${title(r?.say ?? 'Which seat is yours?')}
      <p class="lead">${r?.next ?? 'Type the code from your seat card, or point the phone’s camera at the square on it.'}</p>
      <form class="ask" id="door" onSubmit=${(/** @type {SubmitEvent} */ e) => {
        e.preventDefault();
        act.goDoor(new FormData(/** @type {HTMLFormElement} */ (e.target)).get('code')?.toString() ?? '');
      }}>
        <label for="code">Code, six letters and digits</label>
        <input id="code" name="code" class="doorcode" autocomplete="off" autocapitalize="characters" spellcheck="false" maxlength="12" value=${local.code}
          aria-describedby=${local.fault ? 'fault' : undefined} aria-invalid=${local.fault ? 'true' : undefined} />
        ${local.fault && html`<p class="fault" id="fault">${mark('caution')} <span>${local.fault}</span></p>`}
      </form>`,
    acts: html`<div class="both"><button type="submit" form="door" class="primary">Go to the seat</button>
      ${!r && equal('I have no card', () => act.open(''))}</div>`,
  });
}

/**
 * refused: the host said no. What happened, then what to do, in its words.
 * @type {import('./index.js').Screen}
 */
export function refused(view, local, act) {
  const r = /** @type {import('../frames.js').Refused} */ (local.refused);
  const go = r.why === 'version' ? primary('Load this page again', act.reload)
    : r.final ? primary('Ask the host again', act.again)
    : primary('Go on', act.goOn);
  return frame(view, local, act, {
    name: 'refused',
    body: html`<div class="mid">${title(r.say)}<p class="lead">${r.next}</p></div>`,
    acts: go,
  });
}

/**
 * moved: a newer phone, or a newer page on this phone, has the seat.
 * @type {import('./index.js').Screen}
 */
export function moved(view, local, act) {
  const r = /** @type {import('../frames.js').Refused} */ (local.refused);
  return frame(view, local, act, {
    name: 'moved',
    set: false,
    bare: true,
    body: html`<div class="mid">
      <p class="big">${mark('onphone')}</p>
      ${title(r.say)}
      <p class="lead">${r.next}</p>
      <p class="lead2">What was kept is with the host and stays kept.</p>
    </div>`,
    acts: equal('Use this phone again', act.again),
  });
}

/**
 * out: a calm end for who sits out, with a way back.
 * @type {import('./index.js').Screen}
 */
export function out(view, local, act) {
  return frame(view, local, act, {
    name: 'out',
    body: html`<div class="mid">
      ${title('You sit this one out.')}
      <p class="lead">That is all right, and nobody asks why. No name was sent. You can close this page and hand the place back.</p>
    </div>`,
    acts: equal('I would like to taste after all', () => act.sitOut(false)),
  });
}
