// The outbox: frames that the host has not decided yet, oldest first. A frame
// is written here before it is sent and leaves only on the host's word.

import { read, write } from './keep.js';

/**
 * @typedef {import('./frames.js').Sit} Sit
 * @typedef {import('./frames.js').Lock} Lock
 */

export class Outbox {
  /** @param {string} door the code in this page's address; each door has its own outbox */
  constructor(door) {
    this.key = `oddcup.${door}.outbox`;
  }

  /**
   * all gives the undecided frames. It reads anew each time: a second tab of
   * the same phone shares the outbox.
   * @returns {(Sit | Lock)[]}
   */
  all() {
    const frames = read(this.key);
    return Array.isArray(frames) ? frames : [];
  }

  /** @param {Sit | Lock} frame */
  add(frame) {
    write(this.key, [...this.all(), frame]);
  }

  /**
   * take removes the frame with this id and gives it, or undefined when it is
   * not here (a duplicate reply, or a reply to another tab).
   * @param {string | undefined} id
   * @returns {Sit | Lock | undefined}
   */
  take(id) {
    const all = this.all();
    const found = all.find((f) => f.id === id);
    if (found) write(this.key, all.filter((f) => f.id !== id));
    return found;
  }

  /**
   * lock gives the oldest undecided lock, if any.
   * @returns {Lock | undefined}
   */
  lock() {
    return /** @type {Lock | undefined} */ (this.all().find((f) => f.t === 'lock'));
  }

  /**
   * sit gives the undecided request for a seat, if any.
   * @returns {Sit | undefined}
   */
  sit() {
    return /** @type {Sit | undefined} */ (this.all().find((f) => f.t === 'sit'));
  }
}
