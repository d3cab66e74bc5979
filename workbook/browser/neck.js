// A neck in the browser, drawn from the numbers of its board (draw/neck_board.py), with the margins of its picture.

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

// The bare board: wires, strings, their names `beside` them, the frets' numbers `under` the last string.
export function boardPieces(frame, { beside, under }) {
  const { board, x, y } = frame;
  const wires = board.wires.map(([fret, along]) => line([x(along), frame.top], [x(along), frame.bottom],
    fret === 0 ? "nut" : "wire"));
  const strings = board.names.flatMap((name, index) => {
    const at = y(index + 1);
    return [line([x(board.nut), at], [x(board.along), at], "string"), word(x(-beside), at + 5, "quiet", name)];
  });
  const numbers = board.notes.filter(([fret]) => fret > 0).map(([fret]) => (
    word(frame.note(fret), frame.bottom + under, board.inlays.includes(fret) ? "quiet bold" : "quiet", fret)));
  return [...wires, ...strings, ...numbers];
}

// A role's sign around a place: `look` as draw/markers.py has it, `paint` the attributes that colour it.
export function sign([x, y], look, radius, paint) {
  const r = radius * look.size;
  if (!look.corners.length) return ["circle", { cx: x, cy: y, r, ...paint }];
  return ["polygon", { points: look.corners.map(([dx, dy]) => `${x + r * dx},${y + r * dy}`).join(" "), ...paint }];
}

export function line([x1, y1], [x2, y2], look) {
  return ["line", { x1, x2, y1, y2, class: look }];
}

export function word(x, y, look, text) {
  return ["text", { x, y, class: look }, text];
}

export const placeKey = (string, fret) => `${string}:${fret}`;
