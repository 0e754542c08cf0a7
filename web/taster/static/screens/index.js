// Every screen by its name. A screen is a pure function: what the host says,
// what the phone knows, what the taster can do, in; a picture, out. Screens
// that share a drawing or a sentence share a file: each file is a request, and
// the whole page must stay small on a slow network.

import { kept, onphone } from './answer.js';
import { call, called } from './call.js';
import { connecting, door, moved, out, refused } from './door.js';
import { done, over, results } from './end.js';
import { join } from './join.js';
import { light } from './light.js';
import { rinse } from './rinse.js';
import { taste } from './taste.js';
import { check, wrong } from './tray.js';
import { closed, paused, wait } from './wait.js';

/**
 * @callback Screen
 * @param {import('../frames.js').View | null} view
 * @param {import('../types.js').Local} local
 * @param {import('../types.js').Act} act
 * @returns {import('../types.js').VNode}
 */

/** @type {Record<string, Screen>} */
export const screens = {
  call, called, check, closed, connecting, done, door, join, kept, light, moved,
  onphone, out, over, paused, refused, results, rinse, taste, wait, wrong,
};
