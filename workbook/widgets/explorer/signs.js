// The signs of notes: a role's shape with its degree, small beside words or on the neck; marks of pins and of reach.
import { sign } from "../../browser/neck.js";

export const PINS = ["A", "B", "C"];
const PIN_SHAPES = [ // in a square of 20
  ["circle", { cx: 10, cy: 10, r: 7 }],
  ["rect", { x: 3.5, y: 3.5, width: 13, height: 13 }],
  ["polygon", { points: "10,2.5 18,17 2,17" }],
];
const REACH = {
  inside: [["circle", { cx: 10, cy: 10, r: 7, class: "full" }]],
  colour: [["circle", { cx: 10, cy: 10, r: 6.5, class: "open" }], ["path", { d: "M10 3.5a6.5 6.5 0 0 0 0 13z", class: "full" }]],
  outside: [["circle", { cx: 10, cy: 10, r: 6.5, class: "open broken" }]],
};
// The same as letters, where there are many.
export const REACH_GLYPHS = { inside: "●", colour: "◐", outside: "○" };

export function signOf(look, role, text) {
  const label = ["text", { x: 0, y: 4, class: `label l-${role}`, "font-size": text.length > 2 ? 9 : 11 }, text];
  return ["svg", { viewBox: "-14 -14 28 28", class: "sign", "aria-hidden": "true" }, sign([0, 0], look, 11.5, { class: `m-${role}` }), label];
}

export const reachMark = (reach) => ["svg", { viewBox: "0 0 20 20", class: "reach", role: "img", "aria-label": reach }, ...REACH[reach]];

export const pinMark = (index) => ["svg", { viewBox: "0 0 20 20", class: "pin-mark", "aria-hidden": "true" }, shaped(index, {})];

// A pin's mark at a place of the neck.
export const pinAt = (index, x, y) => ["g", { transform: `translate(${x - 5} ${y - 5}) scale(.5)` }, shaped(index, {})];

function shaped(index, about) {
  const [name, attributes] = PIN_SHAPES[index];
  return [name, { class: "pin-shape", ...attributes, ...about }];
}
