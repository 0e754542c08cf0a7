// Runs before the first paint, so that a reload under red lamps does not flash
// white. It repeats what the app last showed; the app decides.
try {
  const shown = JSON.parse(localStorage.getItem('oddcup.shown') ?? '""');
  if (shown) document.documentElement.dataset.theme = shown;
} catch {
  // No storage: the phone's own light or dark stands until the host is heard.
}
