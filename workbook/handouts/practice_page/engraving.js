// The engraving: which bar lies where, the loop's shade, the cursor on the note that sounds.
const strips = () => [...figure.querySelectorAll(".strip")];

// The measures that can be seen, in order, each with its strip.
function measures() {
  const found = [];
  for (const strip of strips()) {
    const edge = strip.getBoundingClientRect();
    for (const group of strip.querySelectorAll("g.measure")) {
      const box = group.querySelector("g.staff").getBoundingClientRect();
      const middle = (box.top + box.bottom) / 2;
      if (middle > edge.top && middle < edge.bottom) found.push({ group, strip });
    }
  }
  return found;
}

function barAt(x, y) {
  let best = -1, near = Infinity;
  measures().forEach(({ group, strip }, index) => {
    const edge = strip.getBoundingClientRect(), box = group.getBoundingClientRect();
    if (y < edge.top - 4 || y > edge.bottom + 4) return;
    const lines = group.querySelector("g.staff > path").getBoundingClientRect();
    const away = x < lines.left ? lines.left - x : x > lines.right ? x - lines.right : 0;
    const high = Math.abs(y - (box.top + box.bottom) / 2);
    if (away + high / 1000 < near) { near = away + high / 1000; best = index; }
  });
  return best;
}

function paintLoop(bars = loop && [loop[0] / line.bar, loop[1] / line.bar - 1]) {
  document.querySelectorAll(".loop-bar").forEach((old) => old.remove());
  if (!bars) return;
  const shades = measures().slice(bars[0], bars[1] + 1).map(({ group }) => {
    const staffs = [...group.querySelectorAll(":scope > g.staff")].map((staff) => staff.getBBox());
    const wide = group.querySelector("g.staff > path").getBBox();
    const all = [...group.querySelectorAll(":scope > g.staff:last-of-type > path, :scope > g.staff > path")].map((path) => path.getBBox());
    const left = Math.min(wide.x, ...all.map((box) => box.x)), right = Math.max(...all.map((box) => box.x + box.width));
    const top = Math.min(...staffs.map((box) => box.y)), bottom = Math.max(...staffs.map((box) => box.y + box.height));
    const rect = document.createElementNS("http://www.w3.org/2000/svg", "rect");
    for (const [name, value] of Object.entries({ x: left, y: top - 60, width: right - left, height: bottom - top + 120, class: "loop-bar" })) rect.setAttribute(name, value);
    return [group, rect];
  });
  for (const [group, rect] of shades) group.prepend(rect); // all are measured before any is drawn: else each would be laid out anew
}

// The drawn note: its digit on the TAB ("t") or its head on the staff ("n"); page.py gives the ids.
const drawn = (kind, note) => document.getElementById(`f${line.figure}-${kind}${note}`);

function stepAt(beat) {
  let found = 0;
  line.steps.forEach(([at], index) => { if (at <= beat + 1e-6) found = index; });
  return found;
}

let shown = -1;
function show(index) {
  if (index === shown) return;
  shown = index;
  document.querySelectorAll(".now").forEach((one) => one.classList.remove("now"));
  document.querySelectorAll(".cursor").forEach((one) => one.remove());
  if (index < 0) return;
  const [, notes] = line.steps[index];
  for (const note of notes) for (const kind of ["t", "n"]) drawn(kind, note)?.classList.add("now");
  cursor(notes[0]);
  lightNeck(notes);
}

// A bar of light behind the note, from the staff's top to the TAB's last line.
function cursor(note) {
  const group = drawn("t", note) ?? drawn("n", note);
  const measure = group?.closest("g.measure"), strip = group?.closest(".strip");
  if (!measure || !strip) return;
  const edge = strip.getBoundingClientRect(), here = group.getBoundingClientRect();
  const box = group.getBBox(), staffs = [...measure.querySelectorAll(":scope > g.staff")].map((staff) => staff.getBBox());
  const top = Math.min(...staffs.map((one) => one.y)), bottom = Math.max(...staffs.map((one) => one.y + one.height));
  const rect = document.createElementNS("http://www.w3.org/2000/svg", "rect");
  for (const [name, value] of Object.entries({ x: box.x - 60, y: top - 60, width: box.width + 120, height: bottom - top + 120, class: "cursor" })) rect.setAttribute(name, value);
  measure.prepend(rect);
  if (playing && (edge.top < 0 || edge.bottom > innerHeight - $("practice").offsetHeight)) strip.scrollIntoView({ block: "center" });
  const scroller = strip.parentElement;
  if (playing && scroller.scrollWidth > scroller.clientWidth) scroller.scrollLeft += here.left - scroller.getBoundingClientRect().left - scroller.clientWidth / 2;
}

function follow() {
  if (!playing) return;
  const { beat, count } = clock();
  $("p-where").textContent = count ? "count-in" : `bar ${Math.floor(beat / line.bar + 1e-6) + 1}`;
  if (!count) show(stepAt(beat));
  requestAnimationFrame(follow);
}
