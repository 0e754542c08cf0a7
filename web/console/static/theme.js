// Loaded before the page is drawn, so that a chosen theme never flashes.
try {
  const t = localStorage.getItem('theme');
  if (t && t !== 'auto') document.documentElement.dataset.theme = t;
} catch { /* no storage: the system's theme stands */ }
