// A neck in the browser, drawn from the numbers of its board (draw/neck_board.py), with the margins of its picture.
import { escaped, tag } from "./svg.js";

// `margins`: units at the sides, over string 1 and under the last string. `left`: turned for the left hand.
export function neckFrame(board, { margins, left }) {
  const width = board.along + 2 * margins.side;
  const bottom = margins.top + board.strings.at(-1);
  const along = new Map(board.notes);
  const x = (place) => (left ? width - margins.side - place : margins.side + place);
  return {
    board, width, height: bottom + margins.below, top: margins.top, bottom, x,
    y: (string) => margins.top + board.strings[string - 1],
    note: (fret) => x(along.get(fret)),
    wide: (fret) => (fret === 0 ? board.open : board.fret),
  };
}

// The bare board as markup: wires, strings, their names beside them, the frets' numbers `under` the last string.
export function boardMarkup(frame, { beside, under }) {
  const { board, x, y } = frame;
  const wires = board.wires.map(([fret, along]) => line([x(along), frame.top], [x(along), frame.bottom],
    fret === 0 ? "nut" : "wire"));
  const strings = board.names.map((name, index) => {
    const at = y(index + 1);
    return line([x(board.nut), at], [x(board.along), at], "string") + word(x(-beside), at + 5, "quiet", name);
  });
  const numbers = board.notes.filter(([fret]) => fret > 0).map(([fret]) => (
    word(frame.note(fret), frame.bottom + under, board.inlays.includes(fret) ? "quiet bold" : "quiet", fret)));
  return [...wires, ...strings, ...numbers].join("");
}

// A role's sign around a place: `look` as draw/markers.py has it, `paint` the attributes that colour it.
export function sign([x, y], look, radius, paint) {
  const r = radius * look.size;
  if (!look.corners.length) return tag("circle", { cx: x, cy: y, r, ...paint });
  const points = look.corners.map(([dx, dy]) => `${x + r * dx},${y + r * dy}`).join(" ");
  return tag("polygon", { points, ...paint });
}

export function line([x1, y1], [x2, y2], look) {
  return tag("line", { x1, x2, y1, y2, class: look });
}

export function word(x, y, look, text) {
  return tag("text", { x, y, class: look }, escaped(text));
}

export const placeKey = (string, fret) => `${string}:${fret}`;
