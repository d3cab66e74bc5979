// The neck under a line: its places, lit as they sound.
import { shape } from "../../browser/svg.js";

export function createNeck(box) {
  let places = [];

  function draw(line) {
    const neck = line.neck;
    places = line.places;
    box.replaceChildren();
    if (!neck) return;
    const wide = 46, gap = 17, left = neck.open ? 52 : 26, count = neck.high - neck.low + 1;
    const width = left + count * wide + 8, height = 12 + gap * (neck.names.length - 1) + 24;
    const side = (at) => (neck.left ? width - at : at);
    const x = (fret) => side(fret === 0 ? left - 14 : left + (fret - neck.low + 0.5) * wide), y = (string) => 10 + (string - 1) * gap;
    const svg = shape(box, "svg", { viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": `The places of this line on the neck, frets ${neck.low} to ${neck.high}` });
    for (let fret = 0; fret <= count; fret += 1) {
      const at = side(left + fret * wide);
      shape(svg, "line", { x1: at, x2: at, y1: 10, y2: y(neck.names.length), class: "wire" });
    }
    neck.names.forEach((name, index) => {
      const at = y(index + 1);
      shape(svg, "line", { x1: side(left), x2: side(left + count * wide), y1: at, y2: at, class: "wire" });
      shape(svg, "text", { x: side(6), "text-anchor": neck.left ? "end" : "start", y: at + 4 }, name);
    });
    for (let fret = neck.low; fret <= neck.high; fret += 1) shape(svg, "text", { x: x(fret), y: height - 2, "text-anchor": "middle" }, fret);
    const seen = new Set();
    for (const one of places) {
      if (!one || seen.has(keyOf(one))) continue;
      seen.add(keyOf(one));
      const dot = shape(svg, "g", { class: "dot", "data-place": keyOf(one) });
      shape(dot, "circle", { cx: x(one[1]), cy: y(one[0]), r: 8 });
      shape(dot, "text", { x: x(one[1]), y: y(one[0]) + 4, "text-anchor": "middle" });
    }
  }

  function light(notes) {
    box.querySelectorAll(".lit").forEach((one) => one.classList.remove("lit"));
    for (const one of notes.map((note) => places[note])) {
      const dot = one && box.querySelector(`[data-place="${keyOf(one)}"]`);
      if (!dot) continue;
      dot.classList.add("lit");
      dot.querySelector("text").textContent = one[2];
    }
  }

  return { draw, light };
}

const keyOf = ([string, fret]) => `${string}:${fret}`;
