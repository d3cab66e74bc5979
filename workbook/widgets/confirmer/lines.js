// The bar lines over the recording's wave: some bars around the place that is heard, each line to be dragged or pushed.
import { bounded } from "../../browser/numbers.js";

const BARS = 8; // in view
const STEP = 0.005, FINE = 0.001; // seconds that a key moves a line; with Shift
const HIGH = 96; // px

// `stands()` is all that stands; `moved(number, second)` is called when a line was let go elsewhere.
export function createLines({ element, stands, playing, moved }) {
  const canvas = document.createElement("canvas"), lines = document.createElement("div"), head = document.createElement("div");
  canvas.height = HIGH;
  lines.className = "lines";
  head.className = "playhead";
  element.replaceChildren(canvas, lines, head);
  let first = 0, dragged = null;

  const edges = () => stands().bars;
  const last = () => Math.min(edges().length - 1, first + BARS);
  const span = () => [edges()[first], edges()[last()]];
  const xOf = (second) => (second - span()[0]) / (span()[1] - span()[0]) * 100; // per cent
  const secondAt = (clientX) => {
    const box = element.getBoundingClientRect(), [low, high] = span();
    return low + bounded((clientX - box.left) / box.width, 0, 1) * (high - low);
  };

  function barAt(second) {
    const all = edges();
    let bar = 0;
    while (bar + 2 < all.length && all[bar + 1] <= second) bar += 1;
    return bar;
  }

  function show(second) { // the bars in which a place lies
    const page = Math.floor(barAt(second) / BARS) * BARS;
    if (page === first) return;
    first = page;
    draw();
  }

  function draw() {
    first = Math.min(first, Math.max(0, edges().length - 2));
    const focus = element.contains(document.activeElement) ? document.activeElement.dataset.line : null;
    lines.replaceChildren(...edges().slice(first, last() + 1).map((second, index) => line(first + index, second)));
    if (focus) lines.querySelector(`[data-line="${focus}"]`)?.focus();
    wave();
  }

  function line(number, second) {
    const made = document.createElement("button");
    const isEnd = number === edges().length - 1, name = isEnd ? "End of the last bar" : `Line of bar ${number + 1}`;
    Object.assign(made, { type: "button", className: "bar-line" });
    for (const [key, value] of Object.entries({
      role: "slider", "aria-label": name, "aria-valuemin": 0, "aria-valuemax": stands().seconds, "aria-valuenow": second,
      "aria-valuetext": `${second.toFixed(3)} seconds` })) made.setAttribute(key, value);
    made.dataset.line = number;
    made.style.left = `${xOf(second)}%`;
    if (!isEnd) made.append(Object.assign(document.createElement("span"), { textContent: number + 1 }));
    return made;
  }

  function wave() {
    const channels = playing.channels(), wide = Math.max(1, element.clientWidth), pen = canvas.getContext("2d");
    canvas.width = wide;
    pen.clearRect(0, 0, wide, HIGH);
    if (!channels) return;
    const [low, high] = span(), rate = playing.rate(), step = (high - low) * rate / wide;
    pen.fillStyle = getComputedStyle(element).color;
    for (let x = 0; x < wide; x += 1) {
      let top = 0;
      for (let at = Math.floor(low * rate + x * step); at < low * rate + (x + 1) * step; at += 3) top = Math.max(top, Math.abs(channels[0][at] ?? 0));
      pen.fillRect(x, (1 - top) * HIGH / 2, 1, Math.max(1, top * HIGH));
    }
  }

  function follow() {
    head.style.left = `${bounded(xOf(playing.at()), 0, 100)}%`;
  }

  lines.addEventListener("pointerdown", (event) => {
    const button = event.target.closest("[data-line]");
    if (!button) { playing.seek(secondAt(event.clientX)); return; }
    dragged = button;
    button.setPointerCapture(event.pointerId);
  });
  lines.addEventListener("pointermove", (event) => { if (dragged) dragged.style.left = `${xOf(secondAt(event.clientX))}%`; });
  lines.addEventListener("pointerup", (event) => {
    if (!dragged) return;
    const second = secondAt(event.clientX), number = Number(dragged.dataset.line), was = edges()[number];
    dragged = null;
    if (Math.abs(second - was) > FINE) moved(number, second);
  });
  lines.addEventListener("keydown", (event) => {
    const by = { ArrowLeft: -1, ArrowRight: 1 }[event.key], button = event.target.closest("[data-line]");
    if (!by || !button) return;
    event.preventDefault();
    event.stopPropagation();
    const number = Number(button.dataset.line);
    moved(number, edges()[number] + by * (event.shiftKey ? FINE : STEP));
  });

  return { draw, show, follow, barAt };
}
