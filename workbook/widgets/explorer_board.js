// The explorer's neck as one text of SVG: a place for each string and fret, marked by what it is over the chord.
import { boardPieces, line, neckFrame, placeKey, sign, word } from "../browser/neck.js";
import { markup } from "../browser/svg.js";

const RADIUS = 15, LETTER = 13.5, MARGINS = { side: 40, top: 26, below: 50 };
const BESIDE = 18, UNDER = 36; // of the strings' names and the frets' numbers from the board

// `here`: {board, looks, left, hidden layers, labels ("degree" or "name"), picked places, focused place}.
export function explorerNeck(here) {
  const { board } = here;
  const frame = neckFrame(board, { margins: MARGINS, left: here.left });
  const dots = new Map(board.dots.filter((dot) => !here.hidden.has(dot.layer))
    .map((dot) => [placeKey(dot.string, dot.fret), dot]));
  const drawn = [...boardPieces(frame, { beside: BESIDE, under: UNDER }), ...board.hints.flatMap((hint) => hinted(frame, hint))];
  for (let string = 1; string <= board.names.length; string += 1) {
    for (const [fret] of board.notes) drawn.push(place({ frame, here, string, fret, dot: dots.get(placeKey(string, fret)) }));
  }
  return markup(["svg", { viewBox: `0 0 ${frame.width} ${frame.height}`, role: "group", "aria-label": board.title }, ...drawn]);
}

// The way to the next chord's tone.
function hinted(frame, hint) {
  const y = frame.y(hint.string), to = frame.note(hint.to);
  const end = [["circle", { cx: to, cy: y, r: 10 }], word(to, y + 4, "small", hint.label)];
  return [line([frame.note(hint.from), y], [to, y], "hint"), ["g", { class: "hint-end" }, ...end]];
}

function place({ frame, here, string, fret, dot }) {
  const name = placeKey(string, fret), at = [frame.note(fret), frame.y(string)];
  const picked = here.picked.has(name), first = placeKey(1, here.board.first);
  const inside = [area(frame, at, fret)];
  if (dot) inside.push(...mark(at, dot[here.labels], here.looks[dot.role]));
  if (picked) inside.push(["circle", { cx: at[0], cy: at[1], r: RADIUS + 4, class: "ring" }]);
  return ["g", {
    class: picked ? "place picked" : "place", role: "button", "data-place": name, "aria-pressed": picked,
    tabindex: (here.focused ?? first) === name ? 0 : -1,
    "aria-label": `string ${string} ${fret ? `fret ${fret}` : "open"}${dot ? `, ${dot.spoken}` : ""}`,
  }, ...inside];
}

function area(frame, [x, y], fret) {
  const wide = frame.wide(fret), high = frame.board.gap;
  return ["rect", { x: x - wide / 2 + 2, y: y - high / 2 + 1, width: wide - 4, height: high - 2, class: "area" }];
}

function mark([x, y], label, look) {
  const paint = { fill: look.fill, stroke: look.stroke, "stroke-width": 2 };
  const letters = { x, y: y + 5 * look.text, fill: look.ink, class: "label", "font-size": LETTER * look.text };
  return [sign([x, y], look, RADIUS, paint), ["text", letters, label]];
}
