// Works the plan out anew as its fields change. The program computes; this page
// sends the form and puts the parts that come back in their places. The tests
// themselves come back where a choice changes which fields they have, or where
// one is added, removed or moved.
const form = document.getElementById('plan');
const kept = form ? new URLSearchParams(new FormData(form)).toString() : '';
let wait = 0;
let asked = 0;
let shapes = false; // the fields of tests may have changed since the last answer
let sending = false;

function typed(act) {
  const data = new FormData(form);
  data.delete('pin');
  data.delete('pin2');
  if (act) data.set('act', act);
  return new URLSearchParams(data);
}

// marks a field as wrong, or no longer so, by its notes.
function mark(notes) {
  const field = document.getElementById(notes.id.slice(0, -'-notes'.length));
  const wrong = notes.querySelector('.field-error') !== null;
  if (!field || !field.matches('input, select, textarea')) return;
  if (wrong) field.setAttribute('aria-invalid', 'true');
  else field.removeAttribute('aria-invalid');
  field.closest('[data-field]')?.classList.toggle('field-bad', wrong);
}

function swap(old, part) {
  const open = [...old.querySelectorAll('details[open]')].map((d) => d.id);
  const at = old.contains(document.activeElement) ? document.activeElement : null;
  const go = part.dataset.focus || at?.id || '';
  old.replaceWith(part);
  for (const id of open) {
    const same = document.getElementById(id);
    if (same) same.open = true;
  }
  if (go) document.getElementById(go)?.focus();
  else if (at?.name) part.querySelector('[name="' + CSS.escape(at.name) + '"]')?.focus();
}

async function workOut(act) {
  const mine = ++asked;
  clearTimeout(wait);
  if (act) shapes = true;
  let html;
  try {
    const answer = await fetch(form.dataset.forecast, {
      method: 'POST', body: typed(act), headers: { Parts: shapes ? 'tests' : '1' },
    });
    if (!answer.ok) return;
    html = await answer.text();
  } catch {
    return; // the program is gone; what stands here stays
  }
  if (mine !== asked) return; // an older answer, or something was typed since
  shapes = false;
  const box = document.createElement('template');
  box.innerHTML = html;
  for (const part of [...box.content.children]) {
    const old = document.getElementById(part.id);
    if (!old) continue;
    if (part.id === 'says') {
      if (old.textContent !== part.textContent) old.textContent = part.textContent;
      continue;
    }
    swap(old, part);
    if (part.classList.contains('field-notes')) mark(part);
  }
}

if (form) {
  form.addEventListener('input', (e) => {
    if (e.target.type === 'password') return;
    asked++;
    if (e.target.dataset.shape !== undefined) shapes = true;
    clearTimeout(wait);
    wait = setTimeout(() => workOut(), 250);
  });
  form.addEventListener('submit', (e) => {
    if (e.submitter?.name === 'act') {
      e.preventDefault();
      workOut(e.submitter.value);
      return;
    }
    sending = true;
  });
  addEventListener('beforeunload', (e) => {
    if (!sending && new URLSearchParams(new FormData(form)).toString() !== kept) e.preventDefault();
  });
}
