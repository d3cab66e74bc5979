// The changes over the score: a cell for each bar of the form, the one that sounds lit; a press begins there.
import { $, make } from "./dom.js";

const ACROSS = 4, NARROW = 2; // bars a row, and in large print on a phone

export function createChanges({ begin }) {
  let cells = [], here = -1;

  function draw(line) {
    cells = line.changes.map((chords, number) => make("button", {
      type: "button", "aria-label": `Begin at bar ${number + 1}: ${chords.map(([, symbol]) => symbol).join(", ")}`,
      onclick: () => begin(number * line.bar),
    }, ...chords.map(([, symbol]) => make("span", {}, symbol))));
    here = -1;
    const box = $("p-changes");
    box.style.setProperty("--across", Math.min(ACROSS, cells.length));
    box.style.setProperty("--narrow", Math.min(NARROW, cells.length));
    box.classList.toggle("many", cells.length > ACROSS);
    box.replaceChildren(...cells);
  }

  function light(bar) { // of the line
    const number = bar % cells.length;
    if (number === here) return;
    cells[here]?.classList.remove("here");
    here = number;
    cells[here].classList.add("here");
    const box = $("p-changes"), top = cells[here].offsetTop - box.offsetTop;
    if (top < box.scrollTop || top + cells[here].offsetHeight > box.scrollTop + box.clientHeight) box.scrollTop = top;
  }

  return { draw, light };
}
