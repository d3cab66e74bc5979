// What this browser keeps of a lesson: ticks, minutes, looks. A browser that keeps nothing is no fault of the page.
export function createStore(name) {
  const key = `vampbook:${name}`;
  const kept = { ticks: {}, minutes: {}, look: {}, ...read() };

  function read() {
    try { return JSON.parse(localStorage.getItem(key)) ?? {}; } catch { return {}; }
  }

  function keep() {
    try { localStorage.setItem(key, JSON.stringify(kept)); return true; } catch { return false; }
  }

  return { kept, keep };
}
