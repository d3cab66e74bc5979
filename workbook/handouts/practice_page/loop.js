// The loop: by two taps, by grips at its ends, by name; the line under the drill's name says what a tap does now.
import { bounded } from "../../browser/numbers.js";
import { $, make, press } from "./dom.js";

const NONE = -1;

// `drill()` is what is kept of the line; `score()` shows it; `change` is called when what is kept has changed.
export function createLoop({ player, bus, drill, score, change }) {
  let picking = false, first = NONE; // picking: a loop is being tapped; first: its bar that was tapped first
  const grips = ["from", "to"].map(grip);

  function set(bars) {
    picking = false;
    first = NONE;
    if (bars) drill().last = bars;
    drill().loop = bars;
    player.setLoop(bars);
    change();
  }

  // On, off, and on again as it was.
  function turn() {
    if (picking) stopPicking();
    else if (player.state().loop) set(null);
    else if (drill().last) set(drill().last);
    else pick();
  }

  function pick() {
    set(null);
    picking = true;
    paint();
  }

  function stopPicking() {
    picking = false;
    first = NONE;
    paint();
  }

  // Takes a tapped bar if a loop is being tapped; else it is not ours.
  function take(bar) {
    if (!picking) return false;
    if (first === NONE) {
      first = bar;
      paint();
    } else set([Math.min(first, bar), Math.max(first, bar)]);
    return true;
  }

  function move(end, bar) {
    const loop = [...player.state().loop];
    loop[end] = end ? bounded(bar, loop[0], player.barCount() - 1) : bounded(bar, 0, loop[1]);
    if (String(loop) !== String(player.state().loop)) set(loop);
  }

  function grip(end, number) {
    const button = make("button", {
      type: "button", className: `grip ${end}`, role: "slider", "aria-valuemin": "1",
      "aria-label": number ? "Last bar of the loop" : "First bar of the loop" });
    button.addEventListener("pointerdown", (event) => button.setPointerCapture(event.pointerId));
    button.addEventListener("pointermove", (event) => {
      if (button.hasPointerCapture(event.pointerId)) move(number, score().barAt(event.clientX, event.clientY));
    });
    button.addEventListener("keydown", (event) => {
      const by = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1 }[event.key];
      if (!by) return;
      event.preventDefault();
      event.stopPropagation();
      move(number, player.state().loop[number] + by);
    });
    return button;
  }

  function paint() {
    const { loop } = player.state();
    $("p-loop").setAttribute("aria-pressed", Boolean(loop) || picking);
    $("p-loop-out").textContent = picking ? "tap bars" : loop ? words(loop) : "off";
    score().paintLoop(loop);
    score().pick(first);
    $("p-say").textContent = said(loop);
    placeGrips(loop);
    paintKept();
  }

  function said(loop) {
    if (picking) return first === NONE ? "Tap the first bar of the loop." : `Bar ${first + 1} to … tap the last bar.`;
    if (loop) return `${loop[0] === loop[1] ? "Bar" : "Bars"} ${words(loop)} repeat${loop[0] === loop[1] ? "s" : ""}.`;
    const bars = player.barCount(), line = player.state().line;
    const back = line.turn < line.length ? `from bar ${Math.round(line.turn / line.bar)} it goes back to the first; ` : "";
    return `${bars} bar${bars === 1 ? "" : "s"}, ${back}tap a note to begin there.`;
  }

  function placeGrips(loop) {
    grips.forEach((button, end) => {
      button.hidden = !loop;
      const box = loop && score().boxOf(loop[end]);
      if (!box) return;
      if (button.parentElement !== score().over) score().over.append(button);
      button.setAttribute("aria-valuemax", player.barCount());
      button.setAttribute("aria-valuenow", loop[end] + 1);
      button.setAttribute("aria-valuetext", `bar ${loop[end] + 1}`);
      button.style.transform = `translate(${end ? box.right : box.left}px, ${box.bottom}px)`;
    });
  }

  function paintKept() {
    const rows = drill().loops.map((one, index) => make("li", { className: "opt" },
      make("button", { type: "button", onclick: () => set(one.bars) }, `${one.name}: ${words(one.bars)}`),
      make("button", { type: "button", "aria-label": `Forget ${one.name}`, onclick: () => forget(index) }, "Forget")));
    $("p-kept-loops").replaceChildren(...rows);
    $("p-keep-loop").disabled = !player.state().loop;
    $("p-unloop").disabled = !player.state().loop;
  }

  function forget(index) {
    drill().loops.splice(index, 1);
    change();
    paint();
  }

  function keepNamed() {
    const { loop } = player.state(), name = $("p-loop-name").value.trim() || `Bars ${words(loop)}`;
    drill().loops = [...drill().loops.filter((one) => one.name !== name), { name, bars: loop }].slice(-12);
    $("p-loop-name").value = "";
    change();
    paint();
  }

  // This bar becomes the loop's first or last.
  function endHere(number) {
    const bar = player.barOf(player.here()), [from, to] = player.state().loop ?? [0, player.barCount() - 1];
    set(number ? [Math.min(from, bar), bar] : [bar, Math.max(to, bar)]);
  }

  press("p-loop", turn);
  press("p-pick-loop", pick);
  press("p-unloop", () => set(null));
  press("p-keep-loop", keepNamed);
  bus.on("loop line fitted", paint);
  return { press: turn, take, set, end: endHere, clear: () => (picking ? stopPicking() : set(null)), paint };
}

const words = ([from, to]) => (from === to ? `${from + 1}` : `${from + 1}–${to + 1}`);
