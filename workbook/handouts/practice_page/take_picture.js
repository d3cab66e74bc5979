// A take at a look: under the line's bars where each note came, early above and late below the beat, by its shape.
import { element } from "../../browser/svg.js";
import { bounded } from "../../browser/numbers.js";
import { MISSING, OK } from "../../browser/heard_take.js";

// What a sign means; it is the same in the report (workbook/draw/take_picture.py).
export const SIGNS = { wrong: "✕", missing: "○", early: "◀", late: "▶" };
const WORDS = { [OK]: "in time", early: "early", late: "late", wrong: "another note", missing: "missing" };
const WIDE = 320, HIGH = 74, ACROSS = 4, MIDDLE = 34, TALL = 26, MOST = 60; // units; bars in a row; ms at its edge
const EDGE = 6, SIZE = 4;

// What is to be marked of a note: "ok", "early", "late", "wrong" or "missing".
export function kindOf({ verdict, late }, worth) {
  if (verdict !== OK) return verdict;
  return Math.abs(late) <= worth ? OK : late < 0 ? "early" : "late";
}

// The notes of which something is known: beside other sounds nobody knows which are missing.
const known = ({ notes, bleeds }) => notes.filter(({ verdict }) => verdict !== MISSING || !bleeds);

// What is to stand under which note: [[index, sign], …].
export const signsOf = (take, worth) => known(take).map((one) => [one.note.index, SIGNS[kindOf(one, worth)]]).filter(([, drawn]) => drawn);

// `take` as heard, `bar` in beats, `worth` and `noticed` in ms.
export function takePicture({ take, bar, worth, noticed }) {
  const marks = known(take).map((one) => ({ ...one, kind: kindOf(one, worth), place: one.note.bar + one.note.beat / bar }));
  const count = Math.max(...take.notes.map(({ note }) => note.bar)) + 1, rows = Math.ceil(count / ACROSS), across = Math.min(ACROSS, count);
  return element(["svg", { viewBox: `0 0 ${WIDE} ${HIGH * rows}`, role: "img", "aria-label": inWords(marks) },
    ...Array.from({ length: rows }, (_, row) => rowOf(row, { marks, count, across, worth, noticed }))]);
}

function rowOf(row, { marks, count, across, worth, noticed }) {
  const wide = (WIDE - 2 * EDGE) / across, first = row * across, long = Math.min(across, count - first), right = EDGE + long * wide;
  const x = (place) => EDGE + (place - first) * wide, y = (ms) => MIDDLE + bounded(ms, -MOST, MOST) / MOST * TALL;
  const band = (ms, name) => ["rect", { class: name, x: EDGE, width: right - EDGE, y: y(-ms), height: y(ms) - y(-ms) }];
  const bars = Array.from({ length: long + 1 }, (_, at) => ["line", { x1: x(first + at), x2: x(first + at), y1: MIDDLE - TALL, y2: MIDDLE + TALL }]);
  const names = Array.from({ length: long }, (_, at) => ["text", { x: x(first + at) + 2, y: HIGH - 3 }, `bar ${first + at + 1}`]);
  const here = marks.filter(({ place }) => place >= first && place < first + across);
  return ["g", { transform: `translate(0 ${HIGH * row})` }, band(worth, "wide"), band(noticed, "near"),
    ["line", { class: "beat", x1: EDGE, x2: right, y1: MIDDLE, y2: MIDDLE }], ...bars, ...names,
    ...here.map(({ kind, place, late }) => sign(kind, x(place) + SIZE + 2, late === null ? MIDDLE : y(late)))];
}

function sign(kind, x, y) {
  const at = (...points) => points.map(([right, down]) => `${(x + right * SIZE).toFixed(1)} ${(y + down * SIZE).toFixed(1)}`);
  const path = {
    early: `M${at([-1.1, 0], [0.9, -1.1], [0.9, 1.1]).join("L")}Z`, late: `M${at([1.1, 0], [-0.9, -1.1], [-0.9, 1.1]).join("L")}Z`,
    wrong: `M${at([-1, -1], [1, 1]).join("L")}M${at([1, -1], [-1, 1]).join("L")}`,
  }[kind];
  if (path) return ["path", { class: `s-${kind}`, d: path }];
  return ["circle", { class: `s-${kind}`, cx: x, cy: y, r: kind === OK ? SIZE * 0.7 : SIZE }];
}

function inWords(marks) {
  const told = Object.entries(WORDS).map(([kind, word]) => [marks.filter((one) => one.kind === kind), word]).filter(([found]) => found.length);
  const where = (found) => found.map(({ note }) => `bar ${note.bar + 1} beat ${Number((note.beat + 1).toFixed(2))}`).join(", ");
  return `Your take, ${marks.length} notes: ${told.map(([found, word]) => (word === WORDS[OK] ? `${found.length} ${word}` : `${found.length} ${word} (${where(found)})`)).join("; ")}.`;
}
