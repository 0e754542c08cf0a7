// Live parts of the host's pages: patches from the page's websocket, clocks that
// run, and the choice of theme. Nothing here decides anything.

const root = document.documentElement;

// While a finger is down nothing is drawn anew: what it pressed must still be
// there when it lifts.
let down = false;
let held = {};
for (const [type, is] of [['pointerdown', true], ['pointerup', false], ['pointercancel', false]]) {
  addEventListener(type, () => {
    down = is;
    // The click comes after the lifting.
    if (!down) setTimeout(() => { const parts = held; held = {}; patch(parts); });
  }, true);
}

function patch(parts) {
  if (down) {
    Object.assign(held, parts);
    return;
  }
  for (const [id, html] of Object.entries(parts)) {
    const old = document.getElementById(id);
    if (!old) continue;
    // What was refused stays until it is sent again.
    if (old.querySelector('[aria-invalid="true"]')) continue;
    const inside = old.contains(document.activeElement);
    const mark = inside ? focusMark(document.activeElement) : null;
    const box = document.createElement('template');
    box.innerHTML = html;
    const fresh = box.content.firstElementChild;
    if (!fresh) continue;
    keepOpen(old, fresh);
    tick(fresh);
    // What is the same stays as it is: a finger may be on its way to it.
    if (old.isEqualNode(fresh)) continue;
    old.replaceWith(fresh);
    if (mark) fresh.querySelector(mark)?.focus();
  }
}

// What was unfolded, or half typed, stays so when its part is drawn anew.
function keepOpen(old, fresh) {
  for (const d of old.querySelectorAll('details[open][id]')) {
    const same = fresh.querySelector('#' + CSS.escape(d.id));
    if (same) same.open = true;
  }
  for (const f of old.querySelectorAll('input[id], textarea[id], select[id]')) {
    const same = fresh.querySelector('#' + CSS.escape(f.id));
    if (same && f.value !== f.defaultValue) same.value = f.value;
  }
}

function focusMark(el) {
  return el.id ? '#' + CSS.escape(el.id) : null;
}

function line(address) {
  let wait = 500;
  const bar = document.getElementById('line-lost');
  const open = () => {
    const ws = new WebSocket(address.replace(/^http/, 'ws'));
    ws.onopen = () => { wait = 500; if (bar) bar.hidden = true; };
    ws.onmessage = (m) => {
      const { parts } = JSON.parse(m.data);
      patch(parts);
      // A page that is no longer the right one for the phase leads on by itself.
      const go = document.querySelector('[data-go]');
      if (go && go.dataset.go !== location.pathname) location.assign(go.dataset.go);
    };
    ws.onclose = () => {
      if (bar) bar.hidden = false;
      setTimeout(open, wait);
      wait = Math.min(wait * 2, 8000);
    };
  };
  open();
}

// <time data-since="ISO"> shows minutes and seconds since then.
function tick(within) {
  for (const t of within.querySelectorAll('time[data-since]')) {
    const s = Math.max(0, Math.floor((Date.now() - Date.parse(t.dataset.since)) / 1000));
    const text = Math.floor(s / 60) + ':' + String(s % 60).padStart(2, '0');
    if (t.textContent !== text) t.textContent = text;
  }
}

function theme() {
  const box = document.getElementById('theme');
  if (!box) return;
  box.value = root.dataset.theme || 'auto';
  box.addEventListener('change', () => {
    if (box.value === 'auto') delete root.dataset.theme; else root.dataset.theme = box.value;
    try { localStorage.setItem('theme', box.value); } catch { /* kept for this page only */ }
  });
}

for (const b of document.querySelectorAll('[data-print]')) b.addEventListener('click', () => window.print());

if (root.dataset.live) line(new URL(root.dataset.live, location.href).href);
theme();
tick(document);
setInterval(() => tick(document), 1000);
