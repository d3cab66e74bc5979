// The practice page: one line at a time in the player, its controls, its keys and what it keeps.
import { createSound } from "../../browser/sound.js";
import { createEngraving } from "./engraving.js";
import { listenToKeys } from "./keys.js";
import { report, paintMinutes } from "./log.js";
import { createNeck } from "./neck.js";
import { createPlayer } from "./player.js";
import { createStore } from "./store.js";

const PARTS = ["line", "chords", "bass", "drums", "click"];
const BACKING = ["chords", "bass", "drums"];
const FASTER = 0.05; // a press of + or −
const $ = (name) => document.getElementById(name);

function createPage(data) {
  const { kept, keep } = createStore(data.title);
  const sound = createSound({ bank: data.bank, samples: data.samples, parts: PARTS });
  const neck = createNeck($("p-neck"));
  const player = createPlayer({ sound, parts: PARTS, vibratoHz: data.vibrato_hz, tell: heed });
  const floor = () => innerHeight - $("practice").offsetHeight;
  const engravings = new Map(data.lines.map((line) => [
    line.figure, createEngraving({ figure: $(`figure-${line.figure}`), line, floor })]));
  const line = () => player.state().line;
  const engraving = () => engravings.get(line().figure);
  let started = 0, cautioned = false, listening = false;

  // --- what is heard is shown
  function heed(what) {
    if (!listening) return;
    if (what === "state") {
      if (started && !player.state().playing) count();
      paintLoop();
    }
    label();
  }

  function count() { // the minutes since play was pressed
    const { figure } = line();
    kept.minutes[figure] = (kept.minutes[figure] ?? 0) + (performance.now() - started) / 60000;
    started = 0;
    keep();
    paintMinutes(data.lines, kept);
  }

  function show(index) {
    if (engraving().show(index, player.state().playing)) neck.light(line().steps[index][1]);
  }

  function follow() {
    if (!player.state().playing) return;
    const { beat, count: counting } = player.heard();
    $("p-where").textContent = counting ? "count-in" : `bar ${player.barAt(beat) + 1}`;
    if (!counting) show(engraving().stepAt(beat));
    requestAnimationFrame(follow);
  }

  function label() {
    const { playing, speed, place } = player.state();
    $("p-play").textContent = playing ? "Pause" : "Play";
    if (!playing) $("p-where").textContent = `bar ${player.barAt(place) + 1}`;
    const percent = Math.round(speed * 100);
    $("p-speed").value = percent;
    $("p-speed-out").textContent = `${percent} % · ♩ = ${Math.round(line().tempo * speed)}`;
    document.querySelectorAll("[data-play]").forEach((one) => {
      const mine = Number(one.dataset.play) === line().figure && playing;
      one.textContent = mine ? "Pause" : "Play this";
      one.setAttribute("aria-label", `${mine ? "Pause" : "Play this:"} ${one.dataset.name}`);
    });
  }

  function paintLoop() {
    const bars = player.bars();
    engraving().paintLoop(bars);
    $("p-loop-out").textContent = !bars ? "whole line"
      : bars[0] === bars[1] ? `bar ${bars[0] + 1}` : `bars ${bars[0] + 1} to ${bars[1] + 1}`;
    $("p-unloop").disabled = !bars;
    $("p-from").value = bars ? bars[0] + 1 : 1;
    $("p-to").value = bars ? bars[1] + 1 : player.barCount();
  }

  // --- what is done
  async function play() {
    if (!await player.play({ countIn: $("p-count").checked })) return;
    caution();
    engraving().forget(); // drawn anew, so that the page scrolls to the first note too
    show(engraving().stepAt(player.within(player.state().place)));
    started = performance.now();
    requestAnimationFrame(follow);
  }

  function toggle() {
    if (player.state().playing) player.pause();
    else play();
  }

  function jump(beat) {
    player.jump(beat);
    show(engraving().stepAt(player.state().place));
    label();
  }

  function choose(number, scroll = false) {
    player.load(data.lines.find((one) => one.figure === number) ?? data.lines[0]);
    listening = true;
    engraving().choose();
    engraving().forget();
    $("p-line").value = line().figure;
    neck.draw(line());
    show(0);
    heed("state");
    if (scroll) engraving().figure.scrollIntoView({ block: "center" });
  }

  function caution() {
    if (cautioned) return;
    cautioned = true;
    $("p-care").hidden = false;
    makeRoom(); // at once: the page is about to scroll
  }

  // Nothing lies hidden under the bar: neither the page's end, nor a system that the cursor scrolls to.
  function makeRoom() {
    document.body.style.paddingBottom = `${$("practice").offsetHeight + 24}px`;
    document.documentElement.style.scrollPaddingBottom = `${$("practice").offsetHeight}px`;
  }

  // --- what is pressed, turned and drawn
  function typedLoop(other) {
    const bars = ["p-from", "p-to"].map((name) => Math.min(player.barCount(), Math.max(1, Number($(name).value) || 1)) - 1);
    if (bars[0] > bars[1]) bars.fill(bars[other]);
    player.setLoop(bars);
  }

  function wireBar() {
    for (const one of data.lines) $("p-line").append(new Option(one.name, one.figure));
    $("p-line").addEventListener("change", () => choose(Number($("p-line").value), true));
    $("p-play").addEventListener("click", toggle);
    $("p-speed").addEventListener("input", () => player.setSpeed(Number($("p-speed").value) / 100));
    $("p-step").addEventListener("change", () => player.setStep(Math.max(0, Math.min(20, Number($("p-step").value) || 0)) / 100));
    $("p-from").addEventListener("change", () => typedLoop(0));
    $("p-to").addEventListener("change", () => typedLoop(1));
    $("p-unloop").addEventListener("click", () => player.setLoop(null));
    $("p-volume").addEventListener("input", () => sound.setVolume(Number($("p-volume").value) / 100));
    for (const [box, parts] of [["p-line-sound", ["line"]], ["p-backing", BACKING], ["p-click", ["click"]]]) {
      $(box).addEventListener("change", () => parts.forEach((part) => sound.setLevel(part, $(box).checked ? 1 : 0)));
    }
    $("p-care-done").addEventListener("click", () => { $("p-care").hidden = true; });
    $("p-save").addEventListener("click", () => report(data, kept));
  }

  function wireLesson() {
    document.querySelectorAll("[data-play]").forEach((one) => one.addEventListener("click", () => {
      const number = Number(one.dataset.play);
      if (number === line().figure) { toggle(); return; }
      choose(number);
      play();
    }));
    document.querySelectorAll("input[type=checkbox][data-tick]").forEach((box) => {
      const name = box.dataset.tick;
      if (name in kept.ticks) box.checked = kept.ticks[name];
      box.addEventListener("change", () => { kept.ticks[name] = box.checked; keep(); });
    });
    for (const [number, one] of engravings) {
      for (const strip of one.strips()) {
        dragOver(strip, {
          begin: () => { if (number !== line().figure) choose(number); },
          barAt: one.barAt, paint: one.paintLoop, loop: player.setLoop, tap: (bar) => jump(bar * line().bar),
        });
      }
    }
  }

  function wireLook() {
    for (const look of ["dark", "large"]) {
      const box = $(`p-${look}`);
      const paint = () => document.documentElement.classList.toggle(look, box.checked);
      box.checked = kept.look[look] ?? (look === "dark" && matchMedia("(prefers-color-scheme: dark)").matches);
      paint();
      box.addEventListener("change", () => { kept.look[look] = box.checked; keep(); paint(); });
    }
  }

  function wireKeys() {
    const here = () => {
      const { playing, place } = player.state();
      return player.barAt(player.within(playing ? player.heard().beat : place));
    };
    const bars = () => player.bars() ?? [0, player.barCount() - 1];
    listenToKeys({
      " ": (event) => { if (event.target.closest("button")) return false; return toggle(); },
      ArrowLeft: () => jump((here() - 1) * line().bar),
      ArrowRight: () => jump((here() + 1) * line().bar),
      "+": () => player.setSpeed(player.state().speed + FASTER),
      "-": () => player.setSpeed(player.state().speed - FASTER),
      "[": () => player.setLoop([here(), Math.max(here(), bars()[1])]),
      "]": () => player.setLoop([Math.min(bars()[0], here()), here()]),
      Escape: () => player.setLoop(null),
    });
  }

  function start() {
    $("p-more").open = innerWidth > 640 && innerHeight > 600;
    new ResizeObserver(makeRoom).observe($("practice"));
    wireBar();
    wireLesson();
    wireLook();
    wireKeys();
    addEventListener("pagehide", player.pause);
    paintMinutes(data.lines, kept);
    choose(data.lines[0].figure);
    $("practice").hidden = false;
    makeRoom();
    document.documentElement.dataset.ready = Math.round(performance.now());
  }

  // What the page believes at this moment, for tests and for the curious.
  function state() {
    const { line: { figure }, ...rest } = player.state();
    return {
      ...rest, line: figure, ...(rest.playing ? player.heard() : {}), shown: engraving().shown(),
      now: [...document.querySelectorAll(".now")].map((one) => one.id),
      time: sound.time(), heard: sound.heard(), gains: sound.gains(),
    };
  }

  const notes = () => ({
    tempo: line().tempo, starts: line().notes.map((one) => one[0]),
    offsets: line().notes.map((one) => data.samples[one[2]][0]),
  });
  return { start, state, notes };
}

// Over bars with a mouse or pen: a loop; a tap: a bar to begin at.
function dragOver(strip, { begin, barAt, paint, loop, tap }) {
  let from = -1, moved = false;
  const range = (to) => [Math.min(from, to), Math.max(from, to)];
  strip.addEventListener("pointerdown", (event) => {
    if (event.button) return;
    begin();
    from = barAt(event.clientX, event.clientY);
    moved = false;
  });
  strip.addEventListener("pointermove", (event) => {
    if (from < 0 || !event.buttons) return;
    const to = barAt(event.clientX, event.clientY);
    if (to < 0) return;
    moved = moved || to !== from;
    if (moved) paint(range(to));
  });
  strip.addEventListener("pointerup", (event) => {
    if (from < 0) return;
    const to = barAt(event.clientX, event.clientY);
    if (moved && to >= 0) loop(range(to));
    else if (to >= 0) tap(to);
    from = -1;
  });
  strip.addEventListener("pointercancel", () => { from = -1; });
}

const page = createPage(JSON.parse($("practice-data").textContent));
page.start();
window.practice = { state: page.state, notes: page.notes };
