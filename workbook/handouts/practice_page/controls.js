// The row of controls and its sheet, and the keys that do the same.
import { $, make, press } from "./dom.js";
import { listenToKeys } from "./keys.js";
import { createSheet } from "./sheet.js";
import { createTempo } from "./tempo.js";

const NEAR = 1e-6;

export function createControls(parts) {
  const { data, store, player, bus, line, loop, choose } = parts;
  const sheet = createSheet({ resized: makeRoom });
  const tempo = createTempo(parts);
  let cautioned = false;

  // The place in the line as bar and beat; while it is counted in, how many beats are left.
  function showPlace(beat, isCounted) {
    const { bar, pulse } = line(), number = player.barOf(beat);
    const left = Math.max(1, Math.ceil(-beat / pulse - NEAR));
    const words = isCounted ? `−${left}` : `${number + 1}.${Math.floor((beat - number * bar) / pulse + NEAR) + 1}`;
    tell($("p-where"), words);
    tell($("p-where-of"), isCounted ? "count" : "bar");
  }

  function paintPlay() {
    const { playing } = player.state();
    $("p-play-word").textContent = playing ? "Pause" : "Play";
    $("p-play").classList.toggle("on", playing);
  }

  function paintLine() {
    const isOne = data.lines.length === 1;
    $("p-name").textContent = line().name;
    $("p-name").classList.toggle("unseen", !isOne); // the list beside it says the same
    $("p-pick").hidden = isOne;
    $("p-line").value = line().key;
    $("p-setting").textContent = line().setting;
    paintPlay();
  }

  function caution() {
    if (cautioned) return;
    cautioned = true;
    $("p-care").hidden = false;
    makeRoom();
  }

  for (const one of data.lines) $("p-line").append(make("option", { value: one.key }, one.name));
  $("p-line").addEventListener("change", () => choose($("p-line").value));
  press("p-play", player.toggle);
  press("p-care-done", () => { $("p-care").hidden = true; makeRoom(); });

  const rows = keyRows({ ...parts, change: tempo.change, leave: () => (sheet.isOpen() ? sheet.close() : loop.clear()) });
  $("p-key-list").replaceChildren(...rows.flatMap(([key, words]) => [make("dt", {}, make("kbd", {}, key)), make("dd", {}, words)]));
  listenToKeys({ rows, isOn: () => store.kept.look.keys });

  new ResizeObserver(makeRoom).observe($("practice"));
  bus.on("state", () => { if (line()) paintPlay(); });
  bus.on("line", paintLine);
  bus.on("started", caution);
  return { showPlace, makeRoom };
}

// Words that stand already are left: in each frame they would have the whole row laid out anew.
function tell(place, words) {
  if (place.textContent !== words) place.textContent = words;
}

// Nothing lies hidden under the row and its sheet: neither the page's end, nor what is scrolled to.
function makeRoom() {
  document.documentElement.style.setProperty("--room", `${$("practice").offsetHeight}px`);
}

// [how the key is called, what it does, {key: act}] of each row of the list.
function keyRows({ player, line, loop, mix, plan, names, change, leave }) {
  const bars = (by) => player.jump(Math.max(0, player.barOf(player.here()) + by) * line().bar);
  const parts = names.map((part, number) => [number + 1, () => mix.toggle(part)]);
  return [
    ["Space", "play or pause", { " ": player.toggle }],
    ["← →", "a bar back or on", { ArrowLeft: () => bars(-1), ArrowRight: () => bars(1) }],
    ["Home", "the first bar", { Home: () => player.jump(0) }],
    ["− +", "slower or faster", { "-": () => change(-1), "+": () => change(1), "=": () => change(1) }],
    ["L", "loop on or off", { l: loop.press }],
    ["[ ]", "the loop begins or ends with this bar", { "[": () => loop.end(0), "]": () => loop.end(1) }],
    ["Esc", "close this, or clear the loop", { Escape: leave }],
    [`1–${names.length}`, `${names.join(", ")} on or off`, Object.fromEntries(parts)],
    ["C", "that pass was clean", { c: () => plan.judged(true) }],
    ["X", "not yet", { x: () => plan.judged(false) }],
  ];
}
