// The score of a line: the engraving that fits, its bars to tap, and one line of light that moves over it.
import { bounded } from "../../browser/numbers.js";
import { $, make } from "./dom.js";

const SMALLEST = 11, LARGEST = 20; // height of a digit's type on the screen, in px
const LARGER = 1.5; // large print is at least that much larger
const SLACK = 8; // px kept free around the system that is played
const NEAR = 1e-6;

// `line`: what it plays; `digit`: height of a digit in units; `floor()`: the lowest px that can be seen.
// `tapped(bar, beat)` is called with the bar and the beat of the note nearest to a tap; `dragged(bars)` while a mouse is
// drawn over bars, `dropped(bars)` when it is let go.
export function createScore({ line, digit, floor, tapped, dragged, dropped }) {
  const figure = $(`figure-${line.figure}`), over = figure.querySelector(".over");
  const bars = Array.from({ length: Math.round(line.length / line.bar) }, (_, number) => barButton(number));
  const light = make("div", { className: "light", hidden: true });
  const beats = line.steps.map(([beat]) => beat);
  let shown = null, scale = 1, lit = -1;
  let signs = []; // [note, sign] … under the line

  over.append(...bars, light);

  function barButton(number) {
    const chords = line.changes[number % line.changes.length].map(([, symbol]) => symbol).join(", ");
    const button = make("button", { type: "button", className: "bar", "aria-label": `Bar ${number + 1}, ${chords}` });
    button.dataset.bar = number;
    button.addEventListener("click", (event) => tapped(number, event.detail ? beatNear(number, event.clientX) : number * line.bar));
    return button;
  }

  // Of all engravings the widest whose digits can be read here; shown no larger than is of use.
  function fit(large) {
    const room = figure.clientWidth, least = SMALLEST * (large ? LARGER : 1), most = LARGEST * (large ? LARGER : 1);
    if (!room) return;
    const widest = Object.entries(line.scores).toSorted(([, one], [, two]) => two.width - one.width);
    const [name, score] = widest.find(([, one]) => room / one.width * digit >= least) ?? widest.at(-1);
    const width = Math.min(room, most / digit * score.width);
    scale = width / score.width;
    figure.dataset.shown = name;
    figure.style.setProperty("--wide", `${width}px`);
    figure.style.setProperty("--high", `${score.height * scale}px`);
    lit = -1;
    if (shown === score) return;
    shown = score;
    placeBars();
    placeSigns();
  }

  // Signs under notes, by their number in the line: what became of a take.
  function mark(found) {
    signs = found;
    placeSigns();
  }

  function placeSigns() {
    for (const one of over.querySelectorAll(".sign")) one.remove();
    if (!shown) return;
    for (const [note, sign] of signs) {
      const step = line.steps.findIndex(([, indexes]) => indexes.includes(note)), [system, x] = shown.places[step];
      const place = make("span", { className: "sign", "aria-hidden": "true" }, sign);
      Object.assign(place.style, { left: share(x, shown.width), top: share(shown.systems[system][1], shown.height) });
      over.append(place);
    }
  }

  function placeBars() {
    let number = 0;
    for (const [top, bottom, edges] of shown.systems) {
      for (const [left, right] of edges) {
        if (!bars[number]) return;
        Object.assign(bars[number].style, {
          left: share(left, shown.width), width: share(right - left, shown.width),
          top: share(top, shown.height), height: share(bottom - top, shown.height) });
        number += 1;
      }
    }
  }

  function beatNear(number, clientX) {
    const x = (clientX - over.getBoundingClientRect().left) / scale, from = number * line.bar;
    let best = from, near = Infinity;
    beats.forEach((beat, index) => {
      if (beat < from - NEAR || beat >= from + line.bar - NEAR) return;
      const away = Math.abs(shown.places[index][1] - x);
      if (away < near) { near = away; best = beat; }
    });
    return best;
  }

  // Where a beat is seen: [system, x], between the notes around it; nothing is measured.
  function placeAt(beat) {
    const index = Math.max(0, stepAt(beat));
    const [system, x] = shown.places[index], from = beats[index];
    const following = shown.places[index + 1], to = index + 1 < beats.length ? beats[index + 1] : line.length;
    const end = following && following[0] === system ? following[1] : shown.systems[system][2].at(-1)[1];
    return [system, x + (end - x) * bounded((beat - from) / (to - from || 1), 0, 1)];
  }

  function stepAt(beat) {
    let low = 0, high = beats.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (beats[middle] <= beat + NEAR) low = middle + 1;
      else high = middle;
    }
    return low - 1;
  }

  function moveTo(beat, following) {
    if (!shown) return;
    const [system, x] = placeAt(beat), [top, bottom] = shown.systems[system];
    if (system !== lit) {
      lit = system;
      light.hidden = false;
      light.style.height = `${(bottom - top) * scale}px`;
      if (following) bringIntoView(top, bottom);
    }
    light.style.transform = `translate3d(${x * scale}px, ${top * scale}px, 0)`;
  }

  function bringIntoView(top, bottom) {
    const edge = over.getBoundingClientRect().top, above = edge + top * scale, below = edge + bottom * scale;
    if (above >= SLACK && below <= floor() - SLACK) return;
    const room = Math.max(0, floor() - (below - above));
    scrollBy({ top: above - Math.min(room / 3, 120), behavior: "instant" });
  }

  function paintLoop(loop, className = "in") {
    bars.forEach((bar, number) => bar.classList.toggle(className, Boolean(loop) && number >= loop[0] && number <= loop[1]));
  }

  // The number of the bar at a place of the screen, or of the nearest.
  function barAt(clientX, clientY) {
    const edge = over.getBoundingClientRect(), x = (clientX - edge.left) / scale, y = (clientY - edge.top) / scale;
    let number = 0, best = 0, near = Infinity;
    for (const [top, bottom, edges] of shown.systems) {
      for (const [left, right] of edges) {
        const away = Math.max(left - x, x - right, 0) + 4 * Math.max(top - y, y - bottom, 0);
        if (away < near) { near = away; best = number; }
        number += 1;
      }
    }
    return Math.min(best, bars.length - 1);
  }

  // A bar's box in px of the layer over the score.
  function boxOf(number) {
    if (!shown) return null;
    let left = number;
    for (const [top, bottom, edges] of shown.systems) {
      if (left < edges.length) return { left: edges[left][0] * scale, right: edges[left][1] * scale, top: top * scale, bottom: bottom * scale };
      left -= edges.length;
    }
    return null;
  }

  drawOver(over, { barAt, dragged, dropped });
  return {
    figure, over, fit, mark, moveTo, stepAt, paintLoop, barAt, boxOf,
    choose: (on) => { figure.hidden = !on; },
    again: () => { lit = -1; }, // the next move scrolls too
    pick: (number) => bars.forEach((bar, index) => bar.classList.toggle("pick", index === number)),
    light: () => light,
  };
}

const share = (part, whole) => `${part / whole * 100}%`;

// With a mouse or pen, drawn over bars.
function drawOver(over, { barAt, dragged, dropped }) {
  let from = -1, to = -1;
  const range = () => [Math.min(from, to), Math.max(from, to)];
  over.addEventListener("pointerdown", (event) => {
    if (event.pointerType === "touch" || event.button || !event.target.closest(".bar")) return;
    from = barAt(event.clientX, event.clientY);
    to = from;
  });
  over.addEventListener("pointermove", (event) => {
    if (from < 0 || !event.buttons) return;
    const here = barAt(event.clientX, event.clientY);
    if (here === to) return;
    to = here;
    dragged(range());
  });
  addEventListener("pointerup", () => {
    if (from >= 0 && to !== from) dropped(range());
    from = -1;
  });
}
