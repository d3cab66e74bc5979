// A take of one's own: recorded over the line through the browser's microphone, heard against it, saved to be sent.
import { createCapture, waveFile } from "../../browser/capture.js";
import { clapped } from "./clap.js";
import { $, make, press } from "./dom.js";
import { createTakeReport } from "./take_report.js";

const SOON = 0.01; // seconds from now at which a sound can begin in time
const RINGS = 0.8; // seconds after the line's end that are still recorded
const LOUD = 0.98, SOFT = 0.02; // peaks beyond which the level is told
const HEARD_GAP = 0.02; // seconds that are missing from which on it is told
const STATES = { off: "Use the microphone", ready: "Record", on: "Stop", ends: "Stop", claps: "Clap on each click" };
const BUSY = ["on", "ends", "claps"];

// `over` is the recording that the page plays, if it does; `hearing` by what a take is heard, `score` shows signs under
// the line, `log` keeps a score.
export function createOwnTake({ sound, player, bus, line, over, hearing, score, log, kept, keep }) {
  const capture = createCapture({ context: sound.context }), report = createTakeReport({ hearing, score, log });
  let state = "off", taken = null, peak = 0, begins = 0, plays = false, ends = 0;
  let when = (beat) => beat; // seconds of a beat, as the take was recorded

  function say(words) { $("p-take-say").textContent = words; }

  function paint() {
    $("p-take").textContent = STATES[state];
    $("p-take").classList.toggle("on", state === "on");
    $("p-take-off").hidden = state !== "ready";
    $("p-take-clap").hidden = state !== "ready";
    $("p-take-level").hidden = state === "off";
    $("p-taken").hidden = !taken || BUSY.includes(state);
    $("p-take").disabled = ["ends", "claps"].includes(state);
  }

  async function use() {
    say("The browser asks whether this page may use the microphone.");
    try {
      await sound.open();
      await capture.open();
      state = "ready";
      say("Play as loud as you will: the bar should move, and not reach its end.");
      requestAnimationFrame(show);
    } catch (error) { say(refused(error)); }
    paint();
  }

  function refused({ name, message }) {
    if (name === "NotAllowedError") return "The microphone was not allowed; nothing is recorded.";
    return name === "NotFoundError" ? "No microphone was found." : message;
  }

  function show() { // the level, while the microphone is used
    if (!capture.isOpen()) return;
    const level = capture.level();
    peak = Math.max(peak, state === "on" ? level : 0);
    $("p-take-level").value = level;
    requestAnimationFrame(show);
  }

  async function record() {
    player.pause();
    player.setLoop(null);
    [peak, taken, state] = [0, null, "on"];
    report.clear();
    player.jump(0);
    capture.begin();
    const { count } = player.state();
    player.set({ count: Math.max(1, count), once: true });
    await player.play();
    player.set({ count });
    begins = player.startsAt();
    when = timesOf(player.state().tempo);
    say("Recording: the count-in, then the line.");
    paint();
  }

  // Seconds from the line's first beat to any other: even, or as the bars of the recording are.
  function timesOf(tempo) {
    if (!over?.isUnder(line())) return (beat) => beat * 60 / tempo;
    const { even } = over.warp(line()), rate = over.rate(tempo);
    return (beat) => (even(beat) - even(0)) / rate;
  }

  // Ended by the line, by a press, or by a pause: what there is is kept, if the line had begun.
  async function finish() {
    if (state !== "on") return;
    clearTimeout(ends);
    state = "ends"; // what is still on its way to the page belongs to it
    const { tempo } = player.state(), its = line(), { name, order } = its, found = capture.end(begins);
    player.pause();
    player.set({ once: false });
    paint();
    taken = await found;
    state = "ready";
    if (taken) taken = { ...taken, tempo, name, order, when, line: its, file: fileName(name) };
    say(taken ? told() : "Nothing was kept: the line had not begun.");
    paint();
    if (taken) report.hear(taken, kept.delay === null ? null : kept.delay / 1000);
  }

  async function clap() {
    player.pause();
    state = "claps";
    say("Clap on each click, or tap the strings: twelve of them.");
    paint();
    const delay = await clapped({ sound, capture, by: hearing.by, part: "click" });
    if (state !== "claps") return; // the microphone was turned off
    state = "ready";
    if (delay !== null) {
      kept.delay = delay;
      $("p-take-early").value = Math.max(0, delay);
      keep();
    }
    say(delay === null ? "The claps were few or uneven: clap once more, on each click." : `This device records ${delay} ms late; that is taken off from now on.`);
    paint();
  }

  function told() {
    const first = taken.first.toFixed(3), seconds = taken.samples.length / taken.rate;
    const level = peak >= LOUD ? " It was too loud: move away, or turn down." : peak < SOFT ? " Hardly anything was heard: come nearer." : "";
    $("p-take-how").textContent = `vampbook take ${taken.file} --lesson LESSON.ipynb --line ${taken.order} --tempo ${taken.tempo} --first-beat ${first}`;
    const gaps = taken.gaps > HEARD_GAP ? ` The browser was busy: ${Math.round(taken.gaps * 1000)} ms of it are missing.` : "";
    return `${seconds.toFixed(0)} seconds of ${taken.name} at ♩ = ${taken.tempo}.${level}${gaps}`;
  }

  // The take under the line, as much earlier as the device was late.
  async function hear() {
    if (plays) { player.pause(); return; }
    player.pause();
    player.jump(0);
    if (taken.tempo !== player.state().tempo) player.setTempo(taken.tempo);
    const { count } = player.state();
    player.set({ count: 0 });
    await player.play();
    player.set({ count });
    plays = true;
    const at = Math.max(player.startsAt(), sound.time() + SOON), late = at - player.startsAt();
    const early = Number($("p-take-early").value) / 1000, from = Math.max(0, Math.round((taken.first + early + late) * taken.rate));
    sound.pour([taken.samples.subarray(from)], Math.round(at * taken.rate), { gain: 1, part: "" });
    $("p-take-hear").textContent = "Stop";
  }

  function save() {
    const link = make("a", { href: URL.createObjectURL(new Blob([waveFile(taken.samples, taken.rate)], { type: "audio/wav" })), download: taken.file });
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 1000);
  }

  function off() {
    capture.close();
    state = "off";
    say("The microphone is off.");
    paint();
  }

  const acts = { off: use, ready: record, on: finish, ends: () => {}, claps: () => {} };
  press("p-take", () => acts[state]());
  press("p-take-off", off);
  press("p-take-hear", hear);
  press("p-take-save", save);
  press("p-take-clap", clap);
  press("p-take-drop", () => { taken = null; report.clear(); say("The take is gone."); paint(); });
  bus.on("pass", () => { if (state === "on") ends = setTimeout(finish, RINGS * 1000); if (plays) player.pause(); });
  bus.on("state", () => {
    if (player.state().playing) return;
    if (plays) { plays = false; $("p-take-hear").textContent = "Hear it with the line"; }
    finish();
  });
  bus.on("line", () => { if (state === "on") finish(); else report.clear(); });
  addEventListener("pagehide", capture.close);
  $("p-take-even").hidden = !over;
  if (kept.delay !== null) $("p-take-early").value = Math.max(0, kept.delay);
  paint();
  return { state: () => ({ state, first: taken?.first, seconds: taken ? taken.samples.length / taken.rate : 0 }) };
}

const fileName = (name) => `take-${name.toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "") || "line"}.wav`;
