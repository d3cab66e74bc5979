// Keys of the page: none while something is typed, none that belongs to the browser.
export function listenToKeys(acts) { // key: what it does, false where it leaves the key to the page
  document.addEventListener("keydown", (event) => {
    const busy = event.target.closest("input, select, textarea, summary, a");
    if (busy || event.ctrlKey || event.metaKey || event.altKey) return;
    const act = acts[event.key];
    if (act && act(event) !== false) event.preventDefault();
  });
}
