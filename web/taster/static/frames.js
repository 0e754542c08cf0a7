// The frames of the wire protocol, version 1, as types. One JSON object a
// websocket text frame. There is no code here.

/**
 * @typedef {{t: 'sit', id: string, name: string}} Sit
 * @typedef {{t: 'lock', id: string, set: number, take: number, pick: number, also?: number, guess: boolean, at: string}} Lock
 *   `also` is the second cup of an answer of two; `at` is the phone's own clock.
 * @typedef {{t: 'tray', set: number, take: number, code: number}} Tray
 * @typedef {'spill' | 'tray' | 'unwell' | 'other'} Why
 *
 * @typedef {{set: number, take: number, pick: number, also?: number, guess: boolean, at: string, right?: boolean, answer?: number, answerAlso?: number}} Kept
 *   An answer on the host's disk. `at` is the host's clock, UTC. An answer of
 *   two names the pair of the leftmost cup, whichever pair was picked. `right`
 *   is told in practice sessions only.
 *
 * @typedef {Object} Refused
 * @property {string} [id] of the frame that was refused
 * @property {string} why  a word: door, full, frozen, taken, code, moved, answered, phase, set, pick, frame, version, busy
 * @property {string} say  what happened
 * @property {string} next what to do
 * @property {boolean} final the host closes the line; the phone must not reconnect by itself
 *
 * @typedef {Object} SetInFront
 * @property {number} n        1, 2, …
 * @property {number} take     0, and one more for each replacement
 * @property {string} method   triangle, duo-trio, tetrad, paired-comparison, 3-afc
 * @property {string} question
 * @property {string} hint
 * @property {string} define   the attribute's definition, or ''
 * @property {number[]} codes  as they stand on the tray, left to right
 * @property {boolean} again   a replacement tray
 * @property {number[]} [old]  codes of the set's trays that were taken back
 * @property {number} picks    cups that an answer names: 1, or 2
 * @property {number} references  cups at the left that are the reference and no answer: 0, or 1
 *
 * @typedef {Object} Result
 * @property {number} n
 * @property {string} method
 * @property {number[]} codes
 * @property {number} pick
 * @property {number} [also]
 * @property {number} answer
 * @property {number} [answerAlso]
 * @property {boolean} right
 * @property {string} chance in words: how often guessing alone is right
 *
 * @typedef {Object} View  what the host says of this phone; the newest replaces all before
 * @property {number} v
 * @property {string} title
 * @property {boolean} [demo]  a demonstration that never counts
 * @property {boolean} [practice]  whether answers are right is told at once
 * @property {'' | 'red'} light
 * @property {'door' | 'lobby' | 'wait' | 'set' | 'done' | 'over' | 'results'} step
 * @property {number} seat      0: none yet
 * @property {number} sets      sets per seat in the whole session
 * @property {boolean} here     in step door: seats are open to take
 * @property {number} cups      in all for one seat
 * @property {string} serving
 * @property {string} swallow
 * @property {string} allergens '' when none are named
 * @property {string} caffeine
 * @property {number} rinse     seconds, 0 for none
 * @property {boolean} paused
 * @property {boolean} calling
 * @property {string} say
 * @property {SetInFront} [front] in step set only
 * @property {Kept[]} kept      oldest first, void ones left out
 * @property {Result[]} [results] in step results only
 */

export {};
