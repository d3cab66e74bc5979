// The row of controls, what its sheet sets, and the keys.
import { $, bind, make, press } from "./dom.js";
import { listenToKeys } from "./keys.js";
import { createSheet } from "./sheet.js";

const BY = 2; // quarter notes a minute of one press
const HELD = 450, AGAIN = 120; // milliseconds until a held button repeats, and between two times
const PARTS_OF_KEYS = { 1: "line", 2: "chords", 3: "bass", 4: "drums", 5: "click" };

export function createControls({ data, store, player, bus, loop, plan, mix, choose, log }) {
  const { kept, keep } = store, { lines } = data;
  const line = () => player.state().line, drill = () => store.drill(line());
  let cautioned = false;
  const sheet = createSheet({ resized: makeRoom });
  const change = (by) => player.setTempo(player.state().tempo + by);

  // Nothing lies hidden under the row and its sheet: neither the page's end, nor what is scrolled to.
  function makeRoom() {
    const high = $("practice").offsetHeight;
    document.documentElement.style.setProperty("--room", `${high}px`);
  }

  // The place in the line as bar and beat; while it is counted in, how many beats are left.
  function showPlace(beat, count) {
    const { bar, pulse } = line();
    const words = count ? `−${Math.max(1, Math.ceil(-beat / pulse - 1e-6))}`
      : `${player.barOf(beat) + 1}.${Math.floor((beat - player.barOf(beat) * bar) / pulse + 1e-6) + 1}`;
    if ($("p-where").textContent !== words) $("p-where").textContent = words;
    $("p-where-of").textContent = count ? "count" : "bar";
  }

  function paintPlay() {
    const { playing } = player.state();
    $("p-play-word").textContent = playing ? "Pause" : "Play";
    $("p-play").classList.toggle("on", playing);
    for (const one of document.querySelectorAll("[data-play]")) {
      const isMine = Number(one.dataset.play) === line().figure && playing;
      one.textContent = isMine ? "Pause" : "Play this";
      one.setAttribute("aria-label", `${isMine ? "Pause" : "Play this:"} ${one.dataset.name}`);
    }
  }

  function paintTempo() {
    const { tempo } = player.state();
    $("p-bpm-out").textContent = tempo;
    $("p-bpm").setAttribute("aria-label", `Tempo ${tempo} quarter notes a minute, more of it`);
    if (document.activeElement !== $("p-typed")) $("p-typed").value = tempo;
  }

  function paintLine() {
    $("p-name").textContent = line().name;
    $("p-name").classList.toggle("unseen", lines.length > 1); // the list beside it says the same
    $("p-pick").hidden = lines.length < 2;
    $("p-line").value = line().key;
    for (const show of ladder) show();
    paintPlay();
  }

  function caution() {
    if (cautioned) return;
    cautioned = true;
    $("p-care").hidden = false;
    makeRoom();
  }

  function held(name, by) { // pressed once, or again and again while it is held
    let wait = 0, again = 0;
    const stop = () => { clearTimeout(wait); clearInterval(again); };
    press(name, () => change(by));
    $(name).addEventListener("pointerdown", () => {
      wait = setTimeout(() => { again = setInterval(change, AGAIN, by); }, HELD);
    });
    for (const end of ["pointerup", "pointerleave", "pointercancel"]) $(name).addEventListener(end, stop);
  }

  // Fields of the sheet that set what the player does with this line, and with every line.
  const ladder = ["rise", "after", "goal"].map((name) => bind(`p-${name}`, {
    read: () => (line() ? drill()[name] : 0),
    write: (value) => { drill()[name] = Math.max(0, Number(value) || 0); player.set({ [name]: drill()[name] }); }, after: keep,
  }));
  for (const name of ["count", "clicks"]) {
    bind(`p-${name}`, { read: () => kept[name], write: (value) => { kept[name] = Number(value); player.set({ [name]: kept[name] }); }, after: keep });
  }

  for (const one of lines) $("p-line").append(make("option", { value: one.key }, one.name));
  $("p-line").addEventListener("change", () => choose($("p-line").value));
  press("p-play", player.toggle);
  press("p-home", () => player.setTempo(line().tempo));
  $("p-typed").addEventListener("change", () => { player.setTempo(Number($("p-typed").value) || line().tempo); paintTempo(); });
  held("p-slower", -BY);
  held("p-faster", BY);
  press("p-care-done", () => { $("p-care").hidden = true; makeRoom(); });

  for (const one of document.querySelectorAll("[data-play]")) {
    one.addEventListener("click", () => {
      const wanted = lines.find((each) => each.figure === Number(one.dataset.play));
      const isMine = wanted === line();
      if (!isMine) choose(wanted.key);
      if (isMine) player.toggle();
      else player.play();
    });
  }
  for (const box of document.querySelectorAll("input[type=checkbox][data-tick]")) {
    const name = box.dataset.tick;
    const show = () => { if (name in kept.ticks) box.checked = kept.ticks[name]; };
    show();
    box.addEventListener("change", () => { kept.ticks[name] = box.checked; keep(); });
    bus.on("read", show);
  }

  const bars = (by) => player.jump(Math.max(0, player.barOf(player.here()) + by) * line().bar);
  const rows = [
    ["Space", "play or pause", { " ": player.toggle }],
    ["← →", "a bar back or on", { ArrowLeft: () => bars(-1), ArrowRight: () => bars(1) }],
    ["Home", "the first bar", { Home: () => player.jump(0) }],
    ["− +", `slower or faster by ${BY}`, { "-": () => change(-BY), "+": () => change(BY), "=": () => change(BY) }],
    ["L", "loop on or off", { l: loop.press }],
    ["[ ]", "the loop begins or ends with this bar", { "[": () => loop.end(0), "]": () => loop.end(1) }],
    ["Esc", "close this, or clear the loop", { Escape: () => (sheet.isOpen() ? sheet.close() : loop.clear()) }],
    ["1–5", "line, chords, bass, drums, click on or off", Object.fromEntries(
      Object.entries(PARTS_OF_KEYS).map(([key, part]) => [key, () => mix.toggle(part)]))],
    ["C", "that pass was clean", { c: () => plan.judged(true) }],
    ["X", "not yet", { x: () => plan.judged(false) }],
  ];
  $("p-key-list").replaceChildren(...rows.flatMap(([key, words]) => [make("dt", {}, make("kbd", {}, key)), make("dd", {}, words)]));
  listenToKeys({ rows, isOn: () => kept.look.keys });

  new ResizeObserver(makeRoom).observe($("practice"));
  bus.on("state", () => { if (line()) paintPlay(); });
  bus.on("tempo", paintTempo);
  bus.on("line", paintLine);
  bus.on("started", caution);
  addEventListener("visibilitychange", () => { if (document.hidden && !player.state().playing) log.count(); });
  return { showPlace, makeRoom };
}
