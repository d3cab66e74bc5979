// Pieces of SVG: as elements, and as text, which draws a whole picture several times faster.

// An element with its attributes and its words, put into `parent`: what a page is told never becomes markup.
export function shape(parent, name, attributes, words = "") {
  const made = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.textContent = words;
  parent.append(made);
  return made;
}

export function escaped(value) {
  return String(value).replace(/[&<>"]/g, (sign) => ({ "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;" })[sign]);
}

// `inside` is markup already: words in it must have been escaped.
export function tag(name, attributes, inside = "") {
  const said = Object.entries(attributes).map(([key, value]) => ` ${key}="${escaped(value)}"`).join("");
  return `<${name}${said}>${inside}</${name}>`;
}
