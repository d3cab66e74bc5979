// The neck: the places of the line, lit as they sound.
function drawNeck() {
  const neck = line.neck, box = $("p-neck");
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
  line.places.forEach((one) => {
    if (!one || seen.has(one.slice(0, 2).join())) return;
    seen.add(one.slice(0, 2).join());
    const dot = shape(svg, "g", { class: "dot", "data-place": `${one[0]}:${one[1]}` });
    shape(dot, "circle", { cx: x(one[1]), cy: y(one[0]), r: 8 });
    shape(dot, "text", { x: x(one[1]), y: y(one[0]) + 4, "text-anchor": "middle" });
  });
}

function lightNeck(notes) {
  document.querySelectorAll("#p-neck .lit").forEach((one) => one.classList.remove("lit"));
  for (const note of notes) {
    const one = line.places[note];
    const dot = one && [...document.querySelectorAll("#p-neck [data-place]")].find((each) => each.dataset.place === `${one[0]}:${one[1]}`);
    if (!dot) continue;
    dot.classList.add("lit");
    dot.querySelector("text").textContent = one[2];
  }
}
