// The practice page: its parts made from the lesson's data and joined by what they tell each other.
import { createBus } from "../../browser/bus.js";
import { createSound } from "../../browser/sound.js";
import { createChanges } from "./changes.js";
import { createControls } from "./controls.js";
import { $ } from "./dom.js";
import { createLog } from "./log.js";
import { createLook } from "./look.js";
import { createLoop } from "./loop.js";
import { createMix } from "./mix.js";
import { createNeck } from "./neck.js";
import { createPlan } from "./plan.js";
import { createPlayer } from "./player.js";
import { createScore } from "./score.js";
import { createStore } from "./store.js";

const PARTS = ["line", "chords", "bass", "drums", "click"];

function createPage(data) {
  const bus = createBus(), { lines } = data;
  const store = createStore({ pack: data.pack, title: data.title, lines, parts: PARTS, left: data.left });
  const { kept, keep } = store;
  const sound = createSound({ bank: data.bank, samples: data.samples, parts: PARTS });
  const player = createPlayer({ sound, parts: PARTS, vibratoHz: data.vibrato_hz, bus });
  const line = () => player.state().line, drill = () => store.drill(line()), score = () => scores.get(line().key);

  const neck = createNeck({ box: $("p-neck"), signs: data.signs, look: () => kept.look });
  const changes = createChanges({ begin: (beat) => { if (player.state().loop) loop.set(null); player.jump(beat); } });
  const scores = new Map(lines.map((one) => [one.key, createScore({
    line: one, digit: data.digit, floor,
    tapped: (bar, beat) => { if (!loop.take(bar)) player.jump(beat); },
    dragged: (bars) => score().paintLoop(bars), dropped: (bars) => loop.set(bars),
  })]));
  const loop = createLoop({ player, bus, drill, score, change: keep });
  const log = createLog({ store, player, bus, line, lines });
  const plan = createPlan({ player, bus, drill, line, change: keep, clean: log.clean });
  const mix = createMix({ sound, parts: PARTS, kept, change: keep });

  // The lowest px that can be seen: over the row and, while it plays, over the neck that stays above it.
  function floor() {
    const neckTop = document.body.classList.contains("playing") && getComputedStyle($("p-neck")).position === "sticky"
      ? $("p-neck").getBoundingClientRect().top : Infinity;
    return Math.min($("practice").getBoundingClientRect().top, neckTop);
  }

  let step = -1;
  function show(beat, following) {
    score().moveTo(beat, following);
    const index = Math.max(0, score().stepAt(beat));
    if (index !== step) {
      step = index;
      neck.light(line().steps[index][1], nextNotes(index));
    }
    changes.light(player.barOf(beat));
  }

  function nextNotes(index) {
    const [from, to] = player.state().loop ?? [0, player.barCount() - 1], end = (to + 1) * line().bar;
    const following = line().steps[index + 1];
    return following && following[0] < end ? following[1] : line().steps[Math.max(0, score().stepAt(from * line().bar))][1];
  }

  function follow() {
    if (!player.state().playing) return;
    const { beat, count, here } = player.look();
    controls.showPlace(count ? beat - here.to : beat, count);
    show(count ? here.to : beat, true);
    if (log.restIsDue()) $("p-say").textContent = "Ten minutes: rest your hands and ears.";
    requestAnimationFrame(follow);
  }

  function rest() { // where it begins at the next press
    if (player.state().playing) return;
    drill().place = player.state().place;
    keep();
    controls.showPlace(player.state().place, false);
    show(player.state().place, false);
  }

  function choose(key) {
    const chosen = lines.find((one) => one.key === key) ?? lines[0];
    if (line()) keep();
    kept.line = chosen.key;
    for (const one of lines) scores.get(one.key).choose(one === chosen);
    step = -1;
    player.load(chosen, store.drill(chosen));
    keep();
  }

  function fit() {
    score().fit(kept.look.large);
    bus.tell("fitted");
    rest();
  }

  const controls = createControls({ data, store, player, bus, loop, plan, mix, choose, log });
  createLook({ kept, change: keep, player, bus });

  bus.on("line", () => {
    neck.draw(line());
    changes.draw(line());
    fit();
  });
  bus.on("look", () => { neck.draw(line()); step = -1; fit(); });
  bus.on("place", rest);
  bus.on("tempo", () => { if (line()) { drill().tempo = player.state().tempo; keep(); } });
  bus.on("whole", () => loop.set(null));
  bus.on("read", () => { plan.paint(); loop.paint(); });
  bus.on("state", () => document.body.classList.toggle("playing", player.state().playing));
  bus.on("started", () => {
    score().again();
    requestAnimationFrame(follow);
  });

  function start() {
    player.set({ count: kept.count, clicks: kept.clicks });
    $("practice").hidden = false;
    choose(kept.line);
    log.paint();
    controls.makeRoom();
    new ResizeObserver(fit).observe($("p-drills"));
    addEventListener("pagehide", player.pause);
    document.documentElement.dataset.ready = Math.round(performance.now());
  }

  // What the page believes at this moment, for tests and for the curious.
  function state() {
    const { line: { figure }, ...rest_ } = player.state(), { beat, count } = player.heard();
    return { ...rest_, line: figure, beat, counting: count, step, time: sound.time(), heard: sound.heard(), gains: sound.gains() };
  }

  const notes = () => ({
    tempo: line().tempo, starts: line().notes.map((one) => one[0]), steps: line().steps.map(([beat]) => beat),
    offsets: line().notes.map((one) => data.samples[one[2]][0]),
  });
  return { start, state, notes };
}

const page = createPage(JSON.parse($("practice-data").textContent));
page.start();
window.practice = { state: page.state, notes: page.notes };
