// Draws digits, tape, marks and cups from the shared glyph file, which the
// laptop serves as a module. Sizes come from the style sheet, in rem, so that
// the drawings grow with the reader's text.

import glyphs from './glyphdata.js';
import { html } from './vendor/htm-preact-3.1.1.js';

/** @typedef {import('./types.js').VNode} VNode */

/** Gap between digits, in hundredths of their height: as in a row of cups, and where a code stands alone. */
export const GAP = { row: 26, alone: 40 };

/**
 * strokes lays text out in the digits' own units (height 100). An underscore is
 * a place still to be filled. It gives null for a text that has no drawing.
 * @param {string} text
 * @param {number} gap
 */
function strokes(text, gap) {
  const d = glyphs.digit;
  const paths = [];
  let x = 0;
  for (const c of text) {
    const path = c === '_' ? `M8 94H${d.width - 8}` : d.paths[c];
    if (!path) return null;
    if (x > 0) x += gap;
    paths.push(html`<path transform=${`translate(${x})`} d=${path} />`);
    x += c === ':' ? d.colonWidth : d.width;
  }
  return x > 0 ? { width: x, paths } : null;
}

/**
 * digits draws a text of digits and colons; its height is the class's.
 * @param {string} text
 * @param {string} [cls]
 * @param {{gap?: number, label?: string}} [o] label: what it reads as, when not the text
 */
export function digits(text, cls = '', o = {}) {
  const drawn = strokes(text, o.gap ?? GAP.row);
  if (!drawn) return html`<span class="plain">${text}</span>`;
  const half = glyphs.digit.stroke / 2;
  return html`<svg class="digits ${cls}" role="img" aria-label=${o.label ?? text}
    viewBox=${`${-half} 0 ${drawn.width + 2 * half} ${glyphs.digit.height}`}
    stroke-width=${glyphs.digit.stroke}>${drawn.paths}</svg>`;
}

/**
 * tape draws a code on its strip; its size is the class's. `wide` is the
 * strip's width and `tall` its height, in the digits' units.
 * @param {string} text
 * @param {string} cls
 * @param {{wide: number, tall: number, gap?: number, label?: string}} o
 */
export function tape(text, cls, o) {
  const drawn = strokes(text, o.gap ?? GAP.row);
  if (!drawn) return html`<span class="plain ${cls}">${text}</span>`;
  const left = (o.wide - drawn.width) / 2;
  const top = o.tall * glyphs.tape.digitTop;
  const under = o.tall * glyphs.tape.underline;
  return html`<svg class="tape ${cls}" role="img" aria-label=${o.label ?? text}
    viewBox=${`-2 -2 ${o.wide + 4} ${o.tall + 4}`}>
    <path class="tape-strip" d=${tapeOutline(o.wide, o.tall)} />
    <g class="tape-digits" transform=${`translate(${left} ${top})`} stroke-width=${glyphs.digit.stroke}>${drawn.paths}</g>
    <path class="tape-under" stroke-width=${o.tall * glyphs.tape.underlineWidth} d=${`M${left} ${under}h${drawn.width}`} />
  </svg>`;
}

/**
 * tapeOutline cuts the strip's ends as the laptop's paper does: teeth of about
 * one pitch. One unit of the pitch is 2.5 units of ours here, because a strip
 * is some 170 units and 67 pixels high.
 * @param {number} w
 * @param {number} h
 */
function tapeOutline(w, h) {
  const t = glyphs.tape;
  const teeth = Math.min(t.maxTeeth, Math.max(t.minTeeth, Math.round(h / (2.5 * t.pitch))));
  const step = h / teeth;
  const deep = Math.min(step / 2, 2.5 * t.deepest);
  let d = `M${deep} 0H${w - deep}`;
  for (let i = 0; i < teeth; i++) d += `l${deep} ${step / 2}l${-deep} ${step / 2}`;
  d += `H${deep}`;
  for (let i = 0; i < teeth; i++) d += `l${-deep} ${-step / 2}l${deep} ${-step / 2}`;
  return d + 'Z';
}

/**
 * mark draws the mark of a state. It is hidden from screen readers: a word
 * always stands beside it.
 * @param {string} name
 * @param {string} [cls]
 */
export function mark(name, cls = '') {
  const m = glyphs.mark[name];
  return html`<svg class="mark ${cls}" aria-hidden="true" viewBox=${`0 0 ${m.width} 24`}>
    ${m.parts.map((/** @type {{d: string, fill?: boolean, dash?: string}} */ p) => p.fill
      ? html`<path class="filled" d=${p.d} />`
      : html`<path d=${p.d} stroke-dasharray=${p.dash} />`)}
  </svg>`;
}

/**
 * cup draws a cup from above. standing: on the tray; awaited: not yet there;
 * pick: graphite, one open loop; kept: violet, closed twice. It is hidden from
 * screen readers: the code beside it is the cup's name.
 * @param {'standing' | 'awaited' | 'pick' | 'kept'} state
 */
export function cup(state) {
  const c = glyphs.cup;
  return html`<svg class="cup cup-${state}" aria-hidden="true" viewBox=${`0 0 ${c.box} ${c.box}`}>
    <path class="cup-wall" d=${c.wall} stroke-dasharray=${state === 'awaited' ? c.awaitedDash : undefined} />
    <path class="cup-liquid" d=${c.liquid} />
    ${loops(state).map((d) => html`<path class="cup-loop" pathLength="100" d=${d} />`)}
  </svg>`;
}

/**
 * loops gives a cup's loops: pencil has one, ink two.
 * @param {string} state
 * @returns {string[]}
 */
function loops(state) {
  return state === 'kept' ? glyphs.cup.kept : state === 'pick' ? [glyphs.cup.pick] : [];
}

/**
 * ring draws a cup's loops without the cup, drawn out to go round whatever it
 * lies over: it fills its frame.
 * @param {'pick' | 'kept'} state
 */
export function ring(state) {
  return html`<svg class="ring cup-${state}" aria-hidden="true" viewBox="6 4 110 112" preserveAspectRatio="none">
    ${loops(state).map((d) => html`<path class="cup-loop" d=${d} />`)}
  </svg>`;
}

/**
 * ties draws a line between the cups of each pair beneath a row of n: a stroke
 * for the first pair, dots for the second. The further apart the cups, the deeper
 * the line, so that no two lie on each other. It fills the row's width.
 * @param {number} n
 * @param {number[][]} pairs  places of the cups in the row, from 0
 */
export function ties(n, pairs) {
  return html`<svg class="ties" aria-hidden="true" viewBox="0 0 ${100 * n} 40" preserveAspectRatio="none">
    ${pairs.map(([a, b], i) => {
      const [from, to, deep] = [100 * a + 50, 100 * b + 50, 18 + 11 * (b - a)];
      return html`<path class=${i ? 'other' : ''} d=${`M${from} 2C${from} ${deep} ${to} ${deep} ${to} 2`} />`;
    })}
  </svg>`;
}
