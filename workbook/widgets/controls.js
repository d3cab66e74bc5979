// Controls of a panel: labelled, and out of reach of the notebook's own keys.

// Lab's command mode reads bare keys anywhere in a cell: keep ours inside the panel.
export function keepKeys(element) {
  element.addEventListener("keydown", (event) => event.stopPropagation());
}

// A control under its label, put into `parent`; `attributes` are set on it as they are named.
export function control(kind, { label, name, parent, look = "", attributes = {} }) {
  const row = document.createElement("label");
  row.className = look;
  const words = document.createElement("span");
  words.textContent = label;
  const input = Object.assign(document.createElement(kind), attributes);
  input.dataset.name = name;
  row.append(words, input);
  parent.append(row);
  return input;
}

export function choice(options, about) {
  const select = control("select", about);
  for (const value of options) select.append(new Option(value, value));
  return select;
}

export function checkbox(checked, change, about) {
  const box = control("input", { ...about, attributes: { type: "checkbox" } });
  box.checked = checked;
  box.addEventListener("change", () => change(box.checked));
  return box;
}

// An element with a class and a role, put into `parent`.
export function part(kind, look, parent, attributes = {}) {
  const made = document.createElement(kind);
  made.className = look;
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  parent.append(made);
  return made;
}

// A line of text that is there only while there is something to say.
export function say(line, words) {
  line.textContent = words;
  line.hidden = !words;
}

// Calls `tell(value)` once nothing was said for `wait` milliseconds.
export function afterPause(tell, wait) {
  let waiting = 0;
  return (value) => {
    clearTimeout(waiting);
    waiting = setTimeout(tell, wait, value);
  };
}
