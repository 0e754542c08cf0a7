// Shows any screen of the taster's page from a fixture, to be looked at and
// checked: story.html?screen=taste&theme=red. A test serves this directory, with
// the page's own files as phones get them under /static/, and looks at every
// screen. All seats, codes and names are invented. Not shipped.

import { screens } from '/static/screens/index.js';
import { screenOf } from '/static/place.js';
import { render } from '/static/vendor/htm-preact-3.1.1.js';

const NOW = Date.parse('2026-04-14T08:42:20Z');

const view = {
  t: 'view', v: 1, title: 'Tuesday session', light: '', step: 'wait', seat: 7, sets: 2, here: false, cups: 5,
  serving: 'about 60 °C', swallow: 'spit or swallow, but the same for every cup', allergens: 'wheat in the crackers',
  caffeine: 'about 77 mg if all is swallowed, robusta about 160 mg (an estimate)', rinse: 60, paused: false, calling: false,
  say: 'The host is pouring the first set.', kept: [],
};
const triangle = {
  n: 1, take: 0, method: 'triangle', question: 'Which one is different?',
  hint: 'Taste from left to right. Two cups are the same, one is different. You may go back and taste again.',
  define: '', codes: [415, 742, 268], again: false, picks: 1, references: 0,
};
const duoTrio = {
  ...triangle, method: 'duo-trio', question: 'Which one is the same as the reference?',
  hint: 'Taste the reference first, at the far left, then the two cups beside it. One of them is the same as the reference. You may go back and taste again.',
  references: 1,
};
const threeAFC = {
  ...triangle, method: '3-afc', question: 'Which cup has the least body?', hint: 'Taste from left to right. You may go back and taste again.',
  define: 'Body: how full, heavy and thick it feels in the mouth. Not how strong it tastes.',
};
const tetrad = {
  ...triangle, method: 'tetrad', question: 'Which two are the same?', codes: [415, 742, 268, 903], picks: 2,
  hint: 'Taste from left to right. Two cups are of one kind and two of another: pick two that are the same, and the others make the second pair. You may go back and taste again.',
};
const pair = {
  n: 2, take: 0, method: 'paired-comparison', question: 'Which cup has less body?', hint: '',
  define: 'Body: how full, heavy and thick it feels in the mouth. Not how strong it tastes.', codes: [536, 194], again: false,
  picks: 1, references: 0,
};
const kept1 = { set: 1, take: 0, pick: 742, guess: false, at: '2026-04-14T08:42:16Z' };
const kept2 = { set: 2, take: 0, pick: 536, guess: true, at: '2026-04-14T08:51:02Z' };
// The tetrad's taster taps 742 and 903; the host names the leftmost cup's pair.
const keptPairs = { ...kept1, pick: 415, also: 268 };
const lockPairs = { t: 'lock', id: '0'.repeat(32), set: 1, take: 0, pick: 742, also: 903, guess: false, at: '2026-04-14T08:42:16.120Z' };
const lock1 = { t: 'lock', id: '0'.repeat(32), set: 1, take: 0, pick: 742, guess: false, at: '2026-04-14T08:42:16.120Z' };

const local = {
  now: NOW, line: 'up', triedAt: NOW - 4000, lasting: true, refused: null, page: '', fault: '', typed: '', out: false,
  name: 'Iva', wrong: '', checked: {}, pick: null, flash: null, rinse: null, wish: '', why: '', theme: '',
};
const set1 = { ...view, step: 'set', say: '', front: triangle };
const set2 = { ...view, step: 'set', say: '', front: pair, kept: [kept1] };
const again = { ...set1, front: { ...triangle, take: 1, again: true, codes: [903, 361, 577], old: triangle.codes } };
const checked = { '1/0': triangle.codes, '2/0': pair.codes, '1/1': again.front.codes };
const of = (front) => ({ ...set1, front });
const sorted = { '1/0': tetrad.codes };
const inPencil = (...codes) => ({ key: '1/0', codes, guess: false });
const flash = (kept) => ({ flash: { kept, until: NOW + 3000 }, rinse: { set: 1, until: NOW + 63000, of: 60 } });
const refused = (why, say, next, final = true) => ({ why, say, next, final });

/** Every fixture: the screen that it must give, view, and what differs in local. */
export const fixtures = {
  connecting: ['connecting', null, { line: 'new' }],
  'connecting-long': ['connecting', null, { line: 'down' }],
  'refused-door': ['door', null, { line: 'shut', refused: refused('door', 'No session answers to 7KQ2MX.', 'Scan the code on the card again, or type what stands beneath it.') }],
  'refused-door-fault': ['door', null, { line: 'shut', fault: 'The code on the card has six characters, letters and digits.', refused: refused('door', 'No session answers to 7KQ2MX.', 'Scan the code on the card again, or type what stands beneath it.') }],
  'refused-full': ['refused', { ...view, step: 'door', say: '', seat: 0, here: true }, { refused: refused('full', 'All 24 seats are taken.', 'Ask the host: somebody may have left.', false) }],
  'refused-frozen': ['refused', { ...view, step: 'door', say: '', seat: 0, here: true }, { refused: refused('frozen', 'The host is pouring for those who are here.', 'Ask whether there is a later sitting.', false) }],
  'refused-taken': ['refused', { ...view, step: 'door', say: '', here: true }, { refused: refused('taken', 'Somebody sits at seat 7 already.', 'Scan the card of an empty place, or ask the host.', false) }],
  'refused-lock': ['refused', set1, { checked, refused: refused('phase', 'Set 1 is not open any more.', '742 was not kept. Tell the host what you picked.', false) }],
  'refused-version': ['refused', null, { line: 'shut', refused: refused('version', 'This page is older than the host’s laptop.', 'Load it again. What is locked on this phone stays.') }],
  moved: ['moved', view, { line: 'shut', refused: refused('moved', 'Seat 7 is on another phone now.', 'Go on there. You can close this page.') }],
  join: ['join', { ...view, step: 'door', say: '', here: true }, {}],
  'join-free': ['join', { ...view, step: 'door', say: '', seat: 0, here: true, allergens: '', serving: '', caffeine: '' }, { name: '' }],
  card: ['door', { ...view, step: 'door', say: '', seat: 0, here: true }, { page: 'card' }],
  'card-typed-for-name': ['door', { ...view, step: 'door', say: '', seat: 0, here: true }, { page: 'card', code: '7kq2mx', fault: 'That is the code of a seat card, not a name. It leads to the seat on the card.' }],
  'join-fault': ['join', { ...view, step: 'door', say: '', here: true }, { name: '', fault: 'Type a name, so that the host knows who sits here.' }],
  'join-asking': ['join', { ...view, step: 'door', say: '', here: true }, { sit: { t: 'sit', id: '0'.repeat(32), name: 'Iva' } }],
  'join-offline': ['join', { ...view, step: 'door', say: '', here: true }, { line: 'down', sit: { t: 'sit', id: '0'.repeat(32), name: 'Iva' } }],
  'join-nothing-kept': ['join', { ...view, step: 'door', say: '', here: true }, { lasting: false }],
  closed: ['closed', { ...view, step: 'door', seat: 0, say: 'The host has not opened the seats yet.' }, {}],
  out: ['out', { ...view, step: 'door', say: '', here: true }, { out: true }],
  lobby: ['wait', { ...view, step: 'lobby', seat: 14, say: 'The host waits for two more people.' }, {}],
  wait: ['wait', view, {}],
  'wait-demo': ['wait', { ...view, demo: true }, {}],
  'join-claim': ['join', { ...view, step: 'door', here: true, say: 'The host lets this seat go on with this phone.' }, {}],
  'done-said': ['done', { ...view, step: 'done', say: 'The session is over. Thank you.', kept: [kept1, kept2] }, {}],
  'wait-between': ['wait', { ...view, kept: [kept1], say: 'Set 2 comes when the nine others have locked.' }, {}],
  'wait-offline': ['wait', view, { line: 'down' }],
  check: ['check', set1, { typed: '41' }],
  'check-empty': ['check', set1, {}],
  'check-again': ['check', again, {}],
  wrong: ['wrong', set1, { wrong: '862' }],
  'wrong-place': ['wrong', set1, { wrong: '268' }],
  'wrong-taken-back': ['wrong', again, { wrong: '415' }],
  taste: ['taste', set1, { checked, pick: { key: '1/0', codes: [742], guess: false } }],
  'taste-none': ['taste', set1, { checked }],
  'taste-guess': ['taste', set1, { checked, pick: { key: '1/0', codes: [415], guess: true } }],
  'taste-again': ['taste', again, { checked, pick: { key: '1/1', codes: [577], guess: false } }],
  'taste-offline': ['taste', set1, { checked, line: 'down', pick: { key: '1/0', codes: [742], guess: false } }],
  pair: ['taste', set2, { checked }],
  'pair-picked': ['taste', set2, { checked, pick: { key: '2/0', codes: [194], guess: false } }],
  'duo-trio': ['taste', of(duoTrio), { checked }],
  'duo-trio-picked': ['taste', of(duoTrio), { checked, pick: inPencil(268) }],
  'duo-trio-beside': ['taste', of(duoTrio), { checked, pick: inPencil(742) }],
  'three-afc': ['taste', of(threeAFC), { checked }],
  'three-afc-picked': ['taste', of(threeAFC), { checked, pick: inPencil(415) }],
  tetrad: ['taste', of(tetrad), { checked: sorted }],
  'tetrad-one': ['taste', of(tetrad), { checked: sorted, pick: inPencil(742) }],
  'tetrad-beside': ['taste', of(tetrad), { checked: sorted, pick: inPencil(415, 742) }],
  'tetrad-between': ['taste', of(tetrad), { checked: sorted, pick: inPencil(742, 903) }],
  'tetrad-ends': ['taste', of(tetrad), { checked: sorted, pick: { ...inPencil(415, 903), guess: true } }],
  'tetrad-third': ['taste', of(tetrad), { checked: sorted, pick: inPencil(742, 903), fault: 'Two cups are picked already. Tap one of them to let it go.' }],
  'tetrad-again': ['taste', of({ ...tetrad, take: 1, again: true }), { checked: { '1/1': tetrad.codes }, pick: { ...inPencil(742, 268), key: '1/1' } }],
  'onphone-pairs': ['onphone', of(tetrad), { checked: sorted, lock: lockPairs }],
  'onphone-pair-alone': ['onphone', view, { lock: lockPairs }],
  'kept-pairs': ['kept', { ...view, kept: [keptPairs] }, { checked: sorted, ...flash(keptPairs) }],
  'kept-pair-alone': ['kept', { ...view, kept: [keptPairs] }, flash(keptPairs)],
  'kept-right': ['kept', view, { checked, ...flash({ ...kept1, right: true }) }],
  'kept-not-right': ['kept', view, { checked, ...flash({ ...kept1, right: false }) }],
  'kept-pairs-right': ['kept', view, { checked: sorted, ...flash({ ...keptPairs, right: true }) }],
  'rinse-right': ['rinse', { ...view, kept: [{ ...kept1, right: true }] }, { rinse: { set: 1, until: NOW + 42000, of: 60 } }],
  'done-pairs': ['done', { ...view, step: 'done', say: '', kept: [keptPairs, kept2] }, { checked: sorted }],
  'done-practice': ['done', { ...view, step: 'done', say: '', kept: [{ ...keptPairs, right: true }, { ...kept2, right: false }] }, { checked: sorted }],
  onphone: ['onphone', set1, { checked, lock: lock1 }],
  'onphone-offline': ['onphone', set1, { checked, lock: lock1, line: 'down' }],
  'onphone-nothing-kept': ['onphone', set1, { checked, lock: lock1, line: 'down', lasting: false }],
  kept: ['kept', { ...view, kept: [kept1] }, { flash: { kept: kept1, until: NOW + 3000 }, rinse: { set: 1, until: NOW + 63000, of: 60 } }],
  'kept-last': ['kept', { ...view, step: 'done', kept: [kept1, kept2] }, { flash: { kept: kept2, until: NOW + 3000 } }],
  rinse: ['rinse', { ...view, kept: [kept1] }, { rinse: { set: 1, until: NOW + 42000, of: 60 } }],
  'rinse-start': ['rinse', { ...view, kept: [kept1], rinse: 90 }, { rinse: { set: 1, until: NOW + 90000, of: 90 } }],
  'rinse-short': ['rinse', { ...view, kept: [kept1], rinse: 20 }, { rinse: { set: 1, until: NOW + 5000, of: 20 } }],
  paused: ['paused', { ...set1, paused: true }, { checked }],
  call: ['call', set1, { checked, page: 'call' }],
  called: ['called', { ...set1, calling: true }, { checked, page: 'called', why: 'spill' }],
  'called-unwell': ['called', { ...set1, calling: true }, { checked, page: 'called', why: 'unwell' }],
  'called-offline': ['called', set1, { checked, page: 'called', why: 'tray', wish: 'tray', line: 'down' }],
  'called-behind': ['taste', { ...set1, calling: true }, { checked, why: 'other', pick: { key: '1/0', codes: [742], guess: false } }],
  done: ['done', { ...view, step: 'done', say: '', kept: [kept1, kept2] }, {}],
  'done-partly': ['done', { ...view, step: 'done', say: '', kept: [kept1], sets: 3 }, {}],
  over: ['over', { ...view, step: 'over', say: 'The host has ended the session.', kept: [kept1] }, {}],
  results: ['results', { ...view, step: 'results', kept: [kept1, kept2], results: [
    { n: 1, method: 'triangle', codes: [415, 742, 268], pick: 742, answer: 742, right: true, chance: 'once in three' },
    { n: 2, method: 'paired-comparison', codes: [536, 194], pick: 536, answer: 194, right: false, chance: 'once in two' },
  ] }, {}],
  'results-other': ['results', { ...view, step: 'results', sets: 1, kept: [kept1], results: [
    { n: 1, method: 'triangle', codes: [415, 742, 268], pick: 742, answer: 268, right: false, chance: 'once in three' },
  ] }, {}],
  'results-methods': ['results', { ...view, step: 'results', sets: 5, kept: [kept1, kept2], results: [
    { n: 1, method: 'duo-trio', codes: [415, 742, 268], pick: 742, answer: 742, right: true, chance: 'once in two' },
    { n: 2, method: 'duo-trio', codes: [636, 194, 807], pick: 807, answer: 194, right: false, chance: 'once in two' },
    { n: 3, method: 'tetrad', codes: [415, 742, 268, 903], pick: 415, also: 268, answer: 415, answerAlso: 268, right: true, chance: 'once in three' },
    { n: 4, method: 'tetrad', codes: [715, 142, 368, 523], pick: 715, also: 142, answer: 715, answerAlso: 523, right: false, chance: 'once in three' },
    { n: 5, method: '3-afc', codes: [536, 194, 881], pick: 536, answer: 194, right: false, chance: 'once in three' },
  ] }, {}],
  light: ['light', view, { page: 'light' }],
  'light-red': ['light', { ...view, light: 'red' }, { page: 'light' }],
};

const act = new Proxy({}, { get: () => () => {} });

/**
 * show draws a fixture in a theme; '' is the phone's own.
 * @param {string} name
 * @param {string} theme
 */
export function show(name, theme) {
  const [screen, v, differs] = fixtures[name];
  const l = { ...local, ...differs };
  const got = screenOf(v, l);
  if (got !== screen) throw new Error(`story ${name}: gives screen ${got}, want ${screen}`);
  if (theme) document.documentElement.dataset.theme = theme;
  else delete document.documentElement.dataset.theme;
  document.title = `Story: ${name}`;
  const root = document.getElementById('app');
  render(null, root);
  render(screens[screen](v, l, act), root);
  document.body.dataset.ready = name;
}

const ask = new URL(location.href).searchParams;
show(ask.get('screen') ?? 'taste', ask.get('theme') ?? '');
