// What the page's own modules hand one another, as types. There is no code here.

/**
 * @typedef {any} VNode  what html`…` gives
 *
 * @typedef {'' | 'phone' | 'light' | 'dark' | 'red'} Theme
 *   '': not chosen: red when the host asks for it, else as the phone.
 *
 * @typedef {Object} Local  what the phone itself knows; Place keeps the lasting part
 * @property {number} now               this phone's clock, ms since the epoch
 * @property {import('./line.js').LineState} line
 * @property {number} triedAt           when the line last tried to reach the host, ms
 * @property {boolean} lasting          what is kept outlives a reload
 * @property {import('./frames.js').Lock} [lock]  locked here, not decided by the host
 * @property {import('./frames.js').Sit} [sit]    asked for, not decided by the host
 * @property {import('./frames.js').Refused | null} refused
 * @property {'' | 'call' | 'called' | 'card' | 'light'} page  opened by the taster over what the host says
 * @property {string} fault             what is wrong with what was typed or tapped on this screen
 * @property {string} typed             digits of the leftmost code so far
 * @property {string} code              of a seat card, as it was typed for a name
 * @property {boolean} out              sits out
 * @property {string} name
 * @property {string} wrong             a whole code that was typed and isn't the leftmost, or ''
 * @property {Record<string, number[]>} checked  by place(): the codes of trays found to be the right one
 * @property {{key: string, codes: number[], guess: boolean} | null} pick  still in pencil, from left to right
 * @property {{kept: import('./frames.js').Kept, until: number} | null} flash  shows "kept" until then, ms
 * @property {{set: number, until: number, of: number} | null} rinse  clock's end, ms; its whole, s
 * @property {import('./frames.js').Why | 'uncall' | ''} wish  told to the host, not yet seen in a view
 * @property {import('./frames.js').Why | ''} why  of the present call
 * @property {Theme} theme
 *
 * @typedef {Object} Act  what the taster can do
 * @property {(name: string) => void} sit
 * @property {(out: boolean) => void} sitOut
 * @property {(key: string) => void} press   a digit, 'back' or 'clear'
 * @property {() => void} retype
 * @property {(code: number) => void} pick   a cup; of an answer of two, one more or one less
 * @property {(guess: boolean) => void} guess
 * @property {() => void} lock
 * @property {(page: Local['page']) => void} open
 * @property {(why: import('./frames.js').Why) => void} call
 * @property {() => void} uncall
 * @property {() => void} rinseAgain
 * @property {(theme: Theme) => void} theme
 * @property {() => void} goOn     leaves a refusal
 * @property {() => void} again    tries the line again after it was closed for good
 * @property {() => void} reload
 * @property {(code: string) => void} goDoor
 */

export {};
