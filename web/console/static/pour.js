// Tells the program that the pour sheet goes to a printer, for the journal, and
// takes the sheet off the screen once the program has closed it. The door, which
// asks for the PIN, says anew what holds as soon as an open sheet has closed.
const bar = document.querySelector('[data-printed]');
const door = document.querySelector('[data-left]');
let told = 0;
let timer;
let at = Infinity; // when to leave

// What closes the sheet closes it in the browser's other tabs too: a print out of
// one that stayed open would stand in no journal.
const tabs = bar || door ? new BroadcastChannel('pour ' + (bar || door).dataset.door) : null;

function leave() {
  if (bar) location.replace(bar.dataset.door);
  // Not reload(): after a wrong PIN that would send the form once more.
  else location.replace(door.dataset.door);
}

// A second more than the program counts: who leaves before it closes the sheet
// is told that it is open.
function leaveIn(seconds) {
  clearTimeout(timer);
  at = Date.now() + 1000 * (Math.max(0, seconds) + 1);
  timer = setTimeout(leave, at - Date.now());
}

const clock = (ms) => {
  const t = new Date(ms);
  return String(t.getHours()).padStart(2, '0') + ':' + String(t.getMinutes()).padStart(2, '0');
};

// The first print lets the sheet close soon; a later one changes nothing.
function print(seconds) {
  tabs.postMessage({ printed: seconds });
  printed(seconds);
}

function printed(seconds) {
  if (!bar || bar.dataset.done !== undefined) return;
  bar.dataset.done = '';
  const now = Date.now();
  leaveIn(seconds);
  const line = document.querySelector('[data-closes]');
  if (line) line.textContent = 'Printed ' + clock(now) + ', closes by itself at ' + clock(now + 1000 * seconds) + '.';
}

if (bar) {
  leaveIn(Number(bar.dataset.open));
  // The file comes a moment after the form is sent.
  document.querySelector('.pour-file')?.addEventListener('submit', () => print(Number(bar.dataset.then) + 2));
}
document.querySelector('form[action$="/leave"]')?.addEventListener('submit', () => tabs.postMessage({ left: true }));
tabs?.addEventListener('message', (e) => {
  if (e.data.printed !== undefined) printed(e.data.printed);
  else setTimeout(leave, 500); // the program has closed it by then
});
if (door) leaveIn(Number(door.dataset.left));

// A page out of the browser's own store would show what is closed.
addEventListener('pageshow', (e) => e.persisted && (bar || door) && leave());
// A laptop that slept, or a tab in the background, counts late.
document.addEventListener('visibilitychange', () => !document.hidden && Date.now() >= at && leave());

addEventListener('beforeprint', () => {
  // Some browsers say it twice for one print.
  if (!bar || Date.now() - told < 2000) return;
  told = Date.now();
  print(Number(bar.dataset.then));
  fetch(bar.dataset.printed, { method: 'POST', keepalive: true, redirect: 'manual' }).then((r) => {
    const left = r.headers.get('Closes-In'); // the dialog may have held the message up
    if (left !== null) leaveIn(Number(left));
  }).catch(() => {
    // The program is gone; the paper still prints, and the page says so on reload.
  });
});
