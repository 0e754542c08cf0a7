// Tells the program that the pour sheet goes to a printer, for the journal, and
// takes the sheet off the screen when the program closes it.
const bar = document.querySelector('[data-printed]');
let told = 0;
let end;

function leaveIn(seconds) {
  clearTimeout(end);
  end = setTimeout(() => location.replace(bar.dataset.door), 1000 * Math.max(0, seconds));
}

function printed() {
  leaveIn(Math.min(Number(bar.dataset.open), Number(bar.dataset.then)));
}

if (bar) {
  leaveIn(Number(bar.dataset.open));
  document.querySelector('.pour-file')?.addEventListener('submit', printed);
  // A page out of the browser's own store would show what is closed.
  addEventListener('pageshow', (e) => e.persisted && location.reload());
}

addEventListener('beforeprint', () => {
  // Some browsers say it twice for one print.
  if (!bar || Date.now() - told < 2000) return;
  told = Date.now();
  printed();
  fetch(bar.dataset.printed, { method: 'POST', keepalive: true, redirect: 'manual' }).catch(() => {
    // The program is gone; the paper still prints, and the page says so on reload.
  });
});
