// Tells the program that the pour sheet goes to a printer, for the journal.
const bar = document.querySelector('[data-printed]');
let told = 0;

addEventListener('beforeprint', () => {
  // Some browsers say it twice for one print.
  if (!bar || Date.now() - told < 2000) return;
  told = Date.now();
  fetch(bar.dataset.printed, { method: 'POST', keepalive: true, redirect: 'manual' }).catch(() => {
    // The program is gone; the paper still prints, and the page says so on reload.
  });
});
