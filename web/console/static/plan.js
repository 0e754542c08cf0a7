// Works the plan out anew as its fields change. The program computes; this page
// sends the form and puts the parts that come back in their places.
const form = document.getElementById('plan');
const kept = form ? new URLSearchParams(new FormData(form)).toString() : '';
let wait = 0;
let asked = 0;
let sending = false;

function typed() {
  const data = new FormData(form);
  data.delete('pin');
  data.delete('pin2');
  return new URLSearchParams(data);
}

async function workOut() {
  const mine = ++asked;
  let html;
  try {
    const answer = await fetch(form.dataset.forecast, { method: 'POST', body: typed(), headers: { Parts: '1' } });
    if (!answer.ok) return;
    html = await answer.text();
  } catch {
    return; // the program is gone; what stands here stays
  }
  if (mine !== asked) return; // an older answer
  const box = document.createElement('template');
  box.innerHTML = html;
  for (const part of [...box.content.children]) {
    const old = document.getElementById(part.id);
    if (!old) continue;
    if (part.id === 'says') {
      if (old.textContent !== part.textContent) old.textContent = part.textContent;
      continue;
    }
    const open = [...old.querySelectorAll('details[open]')].map((d) => d.id);
    const at = old.contains(document.activeElement) ? document.activeElement.name || '' : '';
    old.replaceWith(part);
    for (const id of open) {
      const same = document.getElementById(id);
      if (same) same.open = true;
    }
    if (at) part.querySelector('[name="' + CSS.escape(at) + '"]')?.focus();
  }
}

if (form) {
  form.addEventListener('input', (e) => {
    if (e.target.type === 'password') return;
    clearTimeout(wait);
    wait = setTimeout(workOut, 250);
  });
  form.addEventListener('submit', () => { sending = true; });
  addEventListener('beforeunload', (e) => {
    if (!sending && new URLSearchParams(new FormData(form)).toString() !== kept) e.preventDefault();
  });
}
