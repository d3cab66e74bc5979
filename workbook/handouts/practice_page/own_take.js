// A take of one's own: recorded over the line through the browser's microphone, heard against it, saved to be sent.
import { createCapture, waveFile } from "../../browser/capture.js";
import { $, make, press } from "./dom.js";

const SOON = 0.01; // seconds from now at which a sound can begin in time
const RINGS = 0.8; // seconds after the line's end that are still recorded
const LOUD = 0.98, SOFT = 0.02; // peaks beyond which the level is told
const STATES = { off: "Use the microphone", ready: "Record", on: "Stop" };

// `over` is the recording that the page plays, if it does.
export function createOwnTake({ sound, player, bus, line, over }) {
  const capture = createCapture({ context: sound.context });
  let state = "off", taken = null, peak = 0, begins = 0, hearing = false, ends = 0;

  function say(words) { $("p-take-say").textContent = words; }

  function paint() {
    $("p-take").textContent = STATES[state];
    $("p-take").classList.toggle("on", state === "on");
    $("p-take-off").hidden = state !== "ready";
    $("p-take-level").hidden = state === "off";
    $("p-taken").hidden = !taken || state === "on";
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
    player.jump(0);
    capture.begin();
    const { count } = player.state();
    player.set({ count: Math.max(1, count) });
    await player.play();
    player.set({ count });
    begins = player.startsAt();
    say("Recording: the count-in, then the line.");
    paint();
  }

  // Ended by the line, by a press, or by a pause: what there is is kept, if the line had begun.
  function finish() {
    if (state !== "on") return;
    clearTimeout(ends);
    state = "ready";
    const { tempo } = player.state(), { name, order } = line();
    taken = capture.end(begins);
    player.pause();
    if (taken) taken = { ...taken, tempo, name, order, file: fileName(name) };
    say(taken ? told() : "Nothing was kept: the line had not begun.");
    paint();
  }

  function told() {
    const first = taken.first.toFixed(3), seconds = taken.samples.length / taken.rate;
    const level = peak >= LOUD ? " It was too loud: move away, or turn down." : peak < SOFT ? " Hardly anything was heard: come nearer." : "";
    $("p-take-how").textContent = `vampbook take ${taken.file} --lesson LESSON.ipynb --line ${taken.order} --tempo ${taken.tempo} --first-beat ${first}`;
    const gaps = taken.gaps > 0.001 ? ` The browser was busy: ${Math.round(taken.gaps * 1000)} ms of it are missing.` : "";
    return `${seconds.toFixed(0)} seconds of ${taken.name} at ♩ = ${taken.tempo}.${level}${gaps}`;
  }

  // The take under the line, as much earlier as the device was late.
  async function hear() {
    if (hearing) { player.pause(); return; }
    player.pause();
    player.jump(0);
    if (taken.tempo !== player.state().tempo) player.setTempo(taken.tempo);
    const { count } = player.state();
    player.set({ count: 0 });
    await player.play();
    player.set({ count });
    hearing = true;
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

  const acts = { off: use, ready: record, on: finish };
  press("p-take", () => acts[state]());
  press("p-take-off", off);
  press("p-take-hear", hear);
  press("p-take-save", save);
  press("p-take-drop", () => { taken = null; say("The take is gone."); paint(); });
  bus.on("pass", () => { if (state === "on") ends = setTimeout(finish, RINGS * 1000); if (hearing) player.pause(); });
  bus.on("state", () => {
    if (player.state().playing) return;
    if (hearing) { hearing = false; $("p-take-hear").textContent = "Hear it with the line"; }
    finish();
  });
  bus.on("line", () => { if (state === "on") finish(); });
  addEventListener("pagehide", capture.close);
  $("p-take-even").hidden = !over;
  paint();
  return { state: () => ({ state, first: taken?.first, seconds: taken ? taken.samples.length / taken.rate : 0 }) };
}

const fileName = (name) => `take-${name.toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "") || "line"}.wav`;
