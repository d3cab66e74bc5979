// The practice page: its parts made from the lesson's data and joined by what they tell each other.
import { createBus } from "../../browser/bus.js";
import { createPlayer } from "../../browser/player.js";
import { createSound } from "../../browser/sound.js";
import { createTrack } from "../../browser/own_track.js";
import { createAlong } from "./along.js";
import { createChanges } from "./changes.js";
import { createControls } from "./controls.js";
import { $ } from "./dom.js";
import { createEar } from "./ear.js";
import { createLog } from "./log.js";
import { createLook } from "./look.js";
import { createLoop } from "./loop.js";
import { createMix } from "./mix.js";
import { createNeck } from "./neck.js";
import { createOwnTake } from "./own_take.js";
import { createPinch } from "./pinch.js";
import { createPlan } from "./plan.js";
import { createScore } from "./score.js";
import { createStore } from "./store.js";
import { createView, floor } from "./view.js";
import { wireWords } from "./words.js";

const PARTS = ["line", "chords", "bass", "drums", "click"], WITH_TRACK = ["line", "recording", "click"];

// Everything of the page, by name; each part knows only what it is given.
function createParts(data) {
  const bus = createBus(), { lines } = data, names = data.track ? WITH_TRACK : PARTS;
  const store = createStore({ pack: data.pack, title: data.title, lines, parts: names, left: data.left, large: data.large });
  const { kept, keep } = store;
  const sound = createSound({ bank: data.bank, samples: data.samples, chokes: data.chokes, parts: names });
  const track = data.track ? createTrack({ ...data.track, sound, part: "recording" }) : null;
  const player = createPlayer({ sound, parts: names, vibratoHz: data.vibrato_hz, bus, track });
  const line = () => player.state().line, drill = () => store.drill(line()), score = () => scores.get(line().key);

  const neck = createNeck({ box: $("p-neck"), signs: data.signs, look: () => kept.look });
  const loop = createLoop({ player, bus, drill, score, change: keep });
  const changes = createChanges({ begin: (beat) => { if (player.state().loop) loop.set(null); player.jump(beat); } });
  const scores = new Map(lines.map((one) => [one.key, createScore({
    line: one, digit: data.digit, floor,
    tapped: (bar, beat) => { if (!loop.take(bar)) player.jump(beat); },
    dragged: (bars) => score().paintLoop(bars), dropped: loop.set,
  })]));
  const log = createLog({ store, player, bus, line, lines });
  const plan = createPlan({ player, bus, drill, line, change: keep, clean: log.clean });
  const mix = createMix({ sound, parts: names, kept, change: keep });
  const ear = createEar({ tasks: data.ear, tempo: data.ear_tempo, player, sound });
  const take = createOwnTake({ sound, player, bus, line, over: track, hearing: data.hearing, score, log: log.took, kept, keep });
  if (track) createAlong({ track, player, bus, line });
  return { data, names, track, take, bus, store, sound, player, line, drill, score, scores, neck, loop, changes, log, plan, mix, ear };
}

function createPage(data) {
  const parts = createParts(data);
  const { bus, store: { kept, keep }, player, line, drill, score, scores, neck, changes, loop, plan, log } = parts;

  function choose(key) {
    const chosen = data.lines.find((one) => one.key === key) ?? data.lines[0];
    kept.line = chosen.key;
    for (const one of data.lines) scores.get(one.key).choose(one === chosen);
    view.again();
    player.load(chosen, parts.store.drill(chosen));
    keep();
  }

  function fit() {
    score().fit(kept.look.large);
    bus.tell("fitted");
    view.rest();
  }

  function rest() {
    if (!player.state().playing) drill().place = player.state().place;
    keep();
    view.rest();
  }

  const controls = createControls({ ...parts, choose });
  const view = createView({ player, neck, changes, score, places: controls.showPlace, restIsDue: log.restIsDue });
  const look = createLook({ kept, change: keep, player, bus });
  createPinch({ box: $("p-drills"), can: (larger) => kept.look.large !== larger, step: look.setLarge });
  wireWords({ ...parts, choose });

  bus.on("line", () => { neck.draw(line()); changes.draw(line()); fit(); });
  bus.on("look", () => { neck.draw(line()); view.again(); fit(); });
  bus.on("place", rest);
  bus.on("tempo", () => { drill().tempo = player.state().tempo; keep(); });
  bus.on("whole", () => loop.set(null));
  bus.on("read", () => { plan.paint(); loop.paint(); });
  bus.on("state", () => document.body.classList.toggle("playing", player.state().playing));
  bus.on("started", view.begin);

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

  return { start, ...witness(parts, view) };
}

// What the page believes at this moment, for tests and for the curious.
function witness({ data, player, sound, line, ear, track, take }, view) {
  function state() {
    const { line: { figure }, ...rest } = player.state(), { beat, count } = player.heard();
    return {
      ...rest, line: figure, beat, counting: count, step: view.step(),
      time: sound.time(), heard: sound.heard(), gains: sound.gains(), ...(track ? { bar: track.bar(line(), beat) } : {}),
    };
  }

  const notes = () => ({
    tempo: line().tempo, starts: line().notes.map((one) => one[0]), steps: line().steps.map(([beat]) => beat),
    offsets: line().notes.map((one) => data.samples[one[2]][0]),
  });
  return { state, notes, ear: ear.state, take: take.state };
}

const page = createPage(JSON.parse($("practice-data").textContent));
page.start();
window.practice = { state: page.state, notes: page.notes, ear: page.ear, take: page.take };
