// What this browser lets the page keep. localStorage may be switched off,
// full or forbidden; then a Map stands in for the life of the page, and
// `lasting()` says so, because the taster must hear of it.

/** @type {Map<string, string>} */
const memory = new Map();
let failed = false;

/**
 * lasting reports whether what is kept outlives a reload. It turns false at
 * the first write or read that the browser refuses and stays so.
 */
export function lasting() {
  return !failed;
}

/**
 * read gives the value kept under key, or null when there is none or it can't
 * be understood (a broken value counts as none: the host has the truth).
 * @param {string} key
 * @returns {any}
 */
export function read(key) {
  let text = memory.get(key) ?? null;
  if (text === null) {
    try {
      text = localStorage.getItem(key);
    } catch {
      failed = true;
    }
  }
  if (text === null) return null;
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}

/**
 * write keeps value under key. When it returns, the value is in localStorage
 * or, where the browser refuses that, in memory.
 * @param {string} key
 * @param {any} value
 */
export function write(key, value) {
  const text = JSON.stringify(value);
  try {
    localStorage.setItem(key, text);
    memory.delete(key);
  } catch {
    failed = true;
    memory.set(key, text);
  }
}

/**
 * probe tries one write, so that a taster hears at the start, not at the first
 * lock, that nothing outlives a reload.
 */
export function probe() {
  try {
    localStorage.setItem('oddcup.probe', '1');
    localStorage.removeItem('oddcup.probe');
  } catch {
    failed = true;
  }
}

/**
 * randomHex gives 16 random bytes as 32 lower-case hex digits.
 * crypto.randomUUID is missing on plain HTTP pages; getRandomValues is there.
 * @returns {string}
 */
export function randomHex() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (b) => b.toString(16).padStart(2, '0')).join('');
}
