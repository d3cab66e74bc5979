// Pieces of a drawing: [name, attributes, ...pieces or words]. A page builds them as elements, since its policy lets no
// text become markup; a panel writes them as text, which draws a whole picture several times faster.

export function element([name, attributes, ...inside]) {
  const made = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.append(...inside.map((one) => (Array.isArray(one) ? element(one) : String(one))));
  return made;
}

export function markup([name, attributes, ...inside]) {
  const said = Object.entries(attributes).map(([key, value]) => ` ${key}="${escaped(value)}"`).join("");
  const within = inside.map((one) => (Array.isArray(one) ? markup(one) : escaped(one))).join("");
  return `<${name}${said}>${within}</${name}>`;
}

function escaped(value) {
  return String(value).replace(/[&<>"]/g, (sign) => ({ "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;" })[sign]);
}
