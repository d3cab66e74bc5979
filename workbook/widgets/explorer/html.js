// Pieces of the explorer as text, and boxes that take them: what is painted anew keeps its focus and its place.
import { markup } from "../../browser/svg.js";

const ARIA = /^aria-(?:pressed|checked|expanded)$/; // which say false too

// A piece [name, attributes, ...inside], without attributes that are missing, or false where that says nothing.
export function tag(name, attributes, ...inside) {
  const said = Object.entries(attributes).filter(([key, value]) => value !== null && value !== undefined && (value !== false || ARIA.test(key)));
  return [name, Object.fromEntries(said.map(([key, value]) => [key, value === true && !ARIA.test(key) ? "" : value])), ...inside.filter(Boolean)];
}

// A button that does `act`; `about` are its attributes, what it needs to know as data.
export const button = (act, about, ...inside) => tag("button", { type: "button", "data-act": act, "data-f": act, ...about }, ...inside);

// A button that is on or off.
export const toggle = (act, isOn, about, ...inside) => button(act, { "aria-pressed": Boolean(isOn), ...about }, ...inside);

export const quiet = (...inside) => tag("span", { class: "quiet" }, ...inside);

// A field with its label; `choices` are texts or [value, words].
export function select(name, value, choices, label) {
  const options = choices.map((one) => (Array.isArray(one) ? one : [one, one]))
    .map(([key, words]) => tag("option", { value: key, selected: String(key) === String(value) }, words));
  return tag("label", { class: "field" }, quiet(label), tag("select", { "data-set": name, "data-f": `set-${name}` }, ...options));
}

export function createBox(element) {
  let drawn = "";

  function paint(pieces) {
    const text = pieces.filter(Boolean).map(markup).join("");
    if (text === drawn) return false;
    const focus = element.contains(element.ownerDocument.activeElement)
      ? element.ownerDocument.activeElement.closest("[data-f]")?.dataset.f : null;
    drawn = text;
    element.innerHTML = text;
    if (focus) find(focus)?.focus({ preventScroll: true });
    return true;
  }

  const find = (key) => element.querySelector(`[data-f="${CSS.escape(key)}"]`);

  return { element, paint, focus: (key) => find(key)?.focus(), forget: () => { drawn = ""; } };
}
