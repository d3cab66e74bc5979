// What happened, told to whoever asked: the parts of a page need not know each other.
export function createBus() {
  const acts = new Map();

  function on(names, act) { // "one two": both
    for (const name of names.split(" ")) acts.set(name, [...(acts.get(name) ?? []), act]);
  }

  function tell(name, about) {
    for (const act of acts.get(name) ?? []) act(about);
  }

  return { on, tell };
}
