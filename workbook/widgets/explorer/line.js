// The line: a drill over the chord or the stretch of bars, as TAB with its degrees.
import { createBox, select, tag } from "./html.js";

const BEAT = 60, LEFT = 30, STRING = 16, TOP = 26, SYSTEM = 150; // units
const MANY = 8; // notes in a bar, beyond which a row holds one bar
const BACK = 22; // width of the ground under a digit

export function createLine(app) {
  const box = createBox(app.part("line"));

  function paint() {
    const state = app.state.get(), { line } = app;
    box.paint([app.fold("line", "The line", () => [
      tag("div", { class: "row" }, select("drill", state.drill, app.words.drills, "Which"), ...stretch(state)),
      app.lineProblem ? tag("p", { class: "problem" }, app.lineProblem) : line && tag("p", { class: "quiet" }, `${line.title}${line.title.includes("position") ? "" : `, position ${state.position || 5}`}`),
      line && !app.lineProblem && picture(line),
    ])]);
  }

  // The stretch of bars by its numbers: what a drag sets, for every hand.
  function stretch(state) {
    if (state.drill === app.words.drills[0][0]) return [];
    const count = app.chart.bars.length, [first, last] = app.bars(), numbers = Array.from({ length: count }, (_, index) => [index, `bar ${index + 1}`]);
    return [select("firstBar", first, numbers, "From"), select("lastBar", last, numbers, "To")];
  }

  function picture(line) {
    const bars = Math.round(line.length / line.bar), isDense = line.notes.length / bars > MANY, inRow = isDense || bars === 1 || app.isNarrow() ? 1 : 2;
    const rows = Math.ceil(bars / inRow), beat = isDense ? 2 * BEAT : BEAT, wide = LEFT + inRow * line.bar * beat + 14;
    const names = app.chart.strings.map(([name]) => name), high = (names.length - 1) * STRING, tall = SYSTEM + (names.length - 6) * STRING;
    const drawn = Array.from({ length: rows }, (_, row) => system(line, row, { wide, high, names, top: TOP + row * tall, bars, inRow, beat }));
    const spoken = line.notes.map((note) => `string ${note.string} fret ${note.fret}, ${note.name}, ${note.degree}`).join("; ");
    return tag("div", { class: "tab" }, tag("svg", { viewBox: `0 0 ${wide} ${rows * tall}`, role: "img", "aria-label": `TAB: ${spoken}` }, ...drawn.flat()));
  }

  function system(line, row, { wide, high, names, top, bars, inRow, beat: long }) {
    const from = row * inRow * line.bar, to = from + inRow * line.bar, x = (beat) => LEFT + 22 + (beat - from) * long, y = (string) => top + (string - 1) * STRING;
    const inside = (beat) => beat >= from && beat < to;
    const strings = names.flatMap((name, index) => [["line", { x1: LEFT, x2: wide - 4, y1: y(index + 1), y2: y(index + 1), class: "string" }], ["text", { x: 12, y: y(index + 1) + 4, class: "quiet" }, name]]);
    const ends = Array.from({ length: inRow + 1 }, (_, bar) => bar).filter((bar) => row * inRow + bar <= bars)
      .map((bar) => ["line", { x1: LEFT + bar * line.bar * long + (bar ? 4 : 0), x2: LEFT + bar * line.bar * long + (bar ? 4 : 0), y1: top, y2: top + high, class: "barline" }]);
    const chords = line.chords.filter(([beat]) => inside(beat)).map(([beat, chord]) => ["text", { x: x(beat) - 8, y: top - 12, class: "chord" }, chord]);
    const notes = line.notes.flatMap((note, index) => (inside(note.onset) ? [tag("g", { class: "tab-note", "data-note": index, "data-pitch": note.midi % 12 },
      ["rect", { x: x(note.onset) - BACK / 2, y: y(note.string) - 8, width: BACK, height: 16, rx: 4, class: "ground" }],
      ["text", { x: x(note.onset), y: y(note.string) + 5, class: "digit" }, note.fret],
      ["text", { x: x(note.onset), y: top + high + 22, class: "quiet" }, app.state.get().names ? note.name : note.degree])] : []));
    return [...strings, ...ends, ...chords, ...notes];
  }

  // Lights the notes that sound, by their indexes.
  function light(indexes) {
    for (const one of box.element.querySelectorAll(".tab-note.now")) one.classList.remove("now");
    for (const index of indexes) box.element.querySelector(`[data-note="${index}"]`)?.classList.add("now");
  }

  return { paint, light };
}

