// The engraving of a line: which bar lies where, the loop's shade, the cursor on the note that sounds.
import { shape } from "../../browser/svg.js";

const AROUND = 60; // units of the drawing left around what is marked
const NEAR = 1e-6;

export function createEngraving({ figure, line, floor }) {
  const strips = () => [...figure.querySelectorAll(".strip")];
  let shown = -1;

  // The measures that can be seen, in order, each with its strip.
  function measures() {
    return strips().flatMap((strip) => {
      const edge = strip.getBoundingClientRect();
      const inside = (group) => {
        const box = group.querySelector("g.staff").getBoundingClientRect();
        const middle = (box.top + box.bottom) / 2;
        return middle > edge.top && middle < edge.bottom;
      };
      return [...strip.querySelectorAll("g.measure")].filter(inside).map((group) => ({ group, strip }));
    });
  }

  function barAt(x, y) {
    let best = -1, near = Infinity;
    measures().forEach(({ group, strip }, index) => {
      const edge = strip.getBoundingClientRect(), box = group.getBoundingClientRect();
      if (y < edge.top - 4 || y > edge.bottom + 4) return;
      const lines = group.querySelector("g.staff > path").getBoundingClientRect();
      const away = Math.max(lines.left - x, x - lines.right, 0);
      const high = Math.abs(y - (box.top + box.bottom) / 2);
      if (away + high / 1000 < near) { near = away + high / 1000; best = index; }
    });
    return best;
  }

  function paintLoop(bars) { // [first, last], or nothing
    document.querySelectorAll(".loop-bar").forEach((old) => old.remove());
    if (!bars) return;
    // All are measured before any is drawn: else each would be laid out anew.
    const shades = measures().slice(bars[0], bars[1] + 1).map(({ group }) => [group, barBox(group)]);
    for (const [group, box] of shades) group.prepend(rectangle(box, "loop-bar"));
  }

  // The drawn note: its digit on the TAB ("t") or its head on the staff ("n"); the page gives the ids.
  const drawn = (kind, note) => document.getElementById(`f${line.figure}-${kind}${note}`);

  function stepAt(beat) {
    return Math.max(0, line.steps.findLastIndex(([at]) => at <= beat + NEAR));
  }

  // Marks a step's notes; says whether it is another one than before.
  function show(index, following) {
    if (index === shown) return false;
    shown = index;
    document.querySelectorAll(".now").forEach((one) => one.classList.remove("now"));
    document.querySelectorAll(".cursor").forEach((one) => one.remove());
    const notes = line.steps[index][1];
    for (const note of notes) for (const kind of ["t", "n"]) drawn(kind, note)?.classList.add("now");
    cursor(notes[0], following);
    return true;
  }

  // A bar of light behind the note, from the staff's top to the TAB's last line.
  function cursor(note, following) {
    const group = drawn("t", note) ?? drawn("n", note);
    const measure = group?.closest("g.measure"), strip = group?.closest(".strip");
    if (!measure || !strip) return;
    const here = group.getBoundingClientRect(), box = group.getBBox();
    measure.prepend(rectangle({ left: box.x - AROUND, right: box.x + box.width + AROUND, ...heightOf(measure) }, "cursor"));
    if (following) bringIntoView(strip, here);
  }

  function bringIntoView(strip, here) {
    const edge = strip.getBoundingClientRect();
    if (edge.top < 0 || edge.bottom > floor()) strip.scrollIntoView({ block: "center" });
    const scroller = strip.parentElement;
    if (scroller.scrollWidth <= scroller.clientWidth) return;
    scroller.scrollLeft += here.left - scroller.getBoundingClientRect().left - scroller.clientWidth / 2;
  }

  function choose() {
    document.querySelectorAll("figure.chosen").forEach((one) => one.classList.remove("chosen"));
    figure.classList.add("chosen");
  }

  return {
    barAt, paintLoop, stepAt, show, choose, figure, strips,
    shown: () => shown, forget: () => { shown = -1; },
    scrollIntoView: () => figure.scrollIntoView({ block: "center" }),
  };
}

function heightOf(measure) {
  const staffs = [...measure.querySelectorAll(":scope > g.staff")].map((staff) => staff.getBBox());
  return {
    top: Math.min(...staffs.map((box) => box.y)) - AROUND,
    bottom: Math.max(...staffs.map((box) => box.y + box.height)) + AROUND,
  };
}

function barBox(measure) {
  const lines = [...measure.querySelectorAll(":scope > g.staff > path")].map((path) => path.getBBox());
  return {
    left: Math.min(...lines.map((box) => box.x)),
    right: Math.max(...lines.map((box) => box.x + box.width)),
    ...heightOf(measure),
  };
}

function rectangle({ left, right, top, bottom }, name) {
  const nowhere = document.createDocumentFragment();
  return shape(nowhere, "rect", { x: left, y: top, width: right - left, height: bottom - top, class: name });
}
