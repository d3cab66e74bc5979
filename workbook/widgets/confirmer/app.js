// The panel: what was heard, to be played, corrected and kept. Every step is asked of the kernel, and all is drawn anew.
import { button, createBox, quiet, select, tag, toggle } from "../explorer/html.js";
import { createClient } from "../explorer/client.js";
import { createLines } from "./lines.js";
import { createPlaying } from "./playing.js";

const NUDGE = 0.01; // seconds
const TAPS = 8, TAP_REST = 2; // taps that count; seconds after which they begin anew
const KEYS = [["Space", "play or stop"], ["← →", "a bar back or on"], ["T", "tap the tempo"], ["H D", "half or double"], ["[ ]", "bar one a beat earlier or later"], [", .", "the grid 10 ms earlier or later"], ["1 2 3", "choose the chord here"], ["R", "this bar is right"], ["N", "the next bar to confirm"], ["S", "save"], ["Z", "undo"]];

const clock = (second) => `${Math.floor(second / 60)}:${(second % 60).toFixed(1).padStart(4, "0")}`;

export function createApp({ model, element, mount }) {
  const root = document.createElement("div");
  root.className = "vbx vbc";
  root.tabIndex = 0;
  root.setAttribute("role", "group");
  root.innerHTML = '<div class="in"><div data-part="top"></div><div data-part="strip" class="strip"></div><div data-part="grid"></div><div data-part="chart"></div><div data-part="foot"></div></div>';
  element.replaceChildren(root);
  const sheet = root.appendChild(document.createElement("style")); // the plain page beside it
  sheet.textContent = `.jp-OutputArea:has(.${mount}) .vbx-still, .cell:has(.${mount}) .vbx-still { display: none; }`;

  const client = createClient(model), part = (name) => createBox(root.querySelector(`[data-part="${name}"]`));
  const top = part("top"), grid = part("grid"), chart = part("chart"), foot = part("foot");
  let now = model.get("stands"), place = 0, problem = "", busy = "", click = true, frame = 0; // place: a chord by number
  let taps = [];

  const playing = createPlaying({ load: () => client.ask("sound"), beats, changed: paint });
  const lines = createLines({ element: root.querySelector('[data-part="strip"]'), stands: () => now, playing,
    moved: (line, seconds) => step("drag", { line, seconds }) });

  function beats() {
    const found = [];
    now.bars.slice(0, -1).forEach((start, bar) => {
      for (let pulse = 0; pulse < now.pulses; pulse += 1) found.push([start + (now.bars[bar + 1] - start) * pulse / now.pulses, pulse === 0]);
    });
    return found;
  }

  async function step(ask, about = {}, words = "Listening …") {
    busy = words;
    paint();
    try {
      now = await client.ask(ask, about);
      problem = "";
    } catch (error) { problem = error.message; }
    busy = "";
    place = Math.min(place, now.chords.length - 1);
    lines.draw();
    paint();
  }

  async function play(second) {
    busy = playing.channels() ? "" : "The recording is being read …";
    paint();
    try { await playing.play(second); problem = ""; } catch (error) { problem = error.message; }
    busy = "";
    lines.draw();
    paint();
    cancelAnimationFrame(frame);
    follow();
  }

  function follow() {
    lines.show(playing.at());
    lines.follow();
    const here = placeAt(playing.at());
    if (playing.isPlaying() && here !== place) { place = here; paint(); }
    const where = root.querySelector(".at");
    if (where) where.textContent = said();
    if (playing.isPlaying()) frame = requestAnimationFrame(follow);
  }

  const said = () => `${clock(playing.at())} · bar ${lines.barAt(playing.at()) + 1} of ${now.bars.length - 1}`;

  // The chord of the chart that sounds at a moment.
  function placeAt(second) {
    const bar = lines.barAt(second), share = (second - now.bars[bar]) / (now.bars[bar + 1] - now.bars[bar]);
    return Math.max(0, now.chords.findLastIndex((one) => one.bar === bar % now.form && (one.share === 0 || one.share <= share + 1e-6)));
  }

  // The number of the bar, among those of the recording, in which the chosen chord is heard next.
  function seekTo(number) {
    place = number;
    const { bar, share } = now.chords[number], around = Math.floor(lines.barAt(playing.at()) / now.form) * now.form;
    const heard = Math.min(around + bar, now.bars.length - 2);
    playing.seek(now.bars[heard] + share * (now.bars[heard + 1] - now.bars[heard]));
    follow();
    paint();
  }

  const acts = {
    play: () => (playing.isPlaying() ? playing.stop() : play()),
    bar: ({ by }) => { playing.seek(now.bars[Math.max(0, Math.min(now.bars.length - 2, lines.barAt(playing.at() + 0.001) + Number(by)))]); place = placeAt(playing.at() + 0.001); follow(); paint(); },
    click: () => { click = !click; playing.setClick(click); paint(); },
    tap, tempo: ({ tempo }) => step("tempo", { tempo: Number(tempo) }),
    times: ({ by }) => step("tempo", { tempo: now.tempo * Number(by) }),
    beat: ({ by }) => step("first", { seconds: now.bars[0] + Number(by) * (now.bars[1] - now.bars[0]) / now.pulses }),
    here: () => step("first", { seconds: playing.at() }),
    nudge: ({ by }) => step("shift", { seconds: Number(by) * NUDGE }),
    go: ({ number }) => seekTo(Number(number)),
    choose: ({ number }) => choose(Number(number)),
    right: () => step("right", { bar: now.chords[place].bar }, "…"),
    next: () => {
      const after = now.chords.findIndex((one, number) => number > place && !one.sure), any = now.chords.findIndex((one) => !one.sure);
      if (any >= 0) seekTo(after >= 0 ? after : any);
    },
    save: () => step("save", {}, "…"), undo: () => step("undo", {}, "…"),
  };

  function choose(number) {
    const here = now.chords[place], offer = here.offers[number];
    if (offer) step("chord", { bar: here.bar, share: here.share, chord: offer[0] }, "…");
  }

  function tap() {
    const moment = performance.now() / 1000;
    if (taps.length && moment - taps[taps.length - 1] > TAP_REST) taps = [];
    taps = [...taps, moment].slice(-TAPS);
    paint();
  }

  const tapped = () => (taps.length < 4 ? 0 : 60 * (taps.length - 1) / (taps[taps.length - 1] - taps[0]));

  function paint() {
    top.paint([tag("div", { class: "tools" },
      button("play", { class: "go" }, playing.isPlaying() ? "Stop" : "Play"), tag("output", { class: "at" }, said()),
      button("bar", { "data-by": -1, "data-f": "back", "aria-label": "A bar back" }, "←"), button("bar", { "data-by": 1, "data-f": "on", "aria-label": "A bar on" }, "→"),
      toggle("click", click, {}, "Click"),
      tag("label", { class: "field" }, quiet("Volume"), tag("input", { type: "range", min: 0, max: 1, step: 0.05, value: 0.5, "data-set": "volume", "data-f": "volume" })),
      tag("strong", {}, now.name)), tag("p", { class: "quiet", role: "status" }, busy || "Begin softly: loud playback harms hearing."),
      problem && tag("p", { class: "problem", role: "alert" }, problem)]);
    const tempo = tapped();
    grid.paint([tag("div", { class: "tools" },
      tag("output", {}, `♩ = ${now.tempo}`), button("times", { "data-by": 0.5, "data-f": "half" }, "Half"), button("times", { "data-by": 2, "data-f": "double" }, "Double"),
      button("tap", {}, taps.length ? `Tap (${taps.length})` : "Tap"), tempo > 0 && button("tempo", { "data-tempo": tempo.toFixed(1), "data-f": "take" }, `Take ${tempo.toFixed(1)}`),
      ...now.rivals.slice(0, 3).map((one) => button("tempo", { "data-tempo": one, "data-f": `rival-${one}` }, `or ${one}`)),
      select("meter", now.meter, now.meters, "Meter"), select("key", now.key, now.keys, "Key")),
    tag("div", { class: "tools" }, quiet(`Bar one at ${now.bars[0].toFixed(3)} s`),
      button("beat", { "data-by": -1, "data-f": "beat-back" }, "A beat earlier"), button("beat", { "data-by": 1, "data-f": "beat-on" }, "A beat later"),
      button("here", {}, "Here"), button("nudge", { "data-by": -1, "data-f": "nudge-back" }, "All 10 ms earlier"), button("nudge", { "data-by": 1, "data-f": "nudge-on" }, "All 10 ms later"))]);
    chart.paint([tag("div", { class: "bars" }, ...Array.from({ length: now.form }, (_, bar) => barOf(bar))), chosen()]);
    foot.paint([tag("div", { class: "tools" },
      button("next", { disabled: !now.unsure }, now.unsure ? `Next to confirm (${now.unsure} bar${now.unsure === 1 ? "" : "s"})` : "All confirmed"),
      button("save", { class: "go", disabled: now.saved }, now.saved ? "Saved" : "Save"), button("undo", { disabled: !now.undo }, "Undo"),
      quiet(`${now.saved ? "Kept in" : "Not kept yet:"} ${now.file}, beside the recording`)),
    ...now.notes.map((note) => tag("p", { class: "quiet" }, note)),
    tag("details", {}, tag("summary", {}, "Keys"), tag("dl", { class: "keys" }, ...KEYS.flatMap(([key, words]) => [tag("dt", {}, key), tag("dd", {}, words)])))]);
  }

  function barOf(bar) {
    const inside = now.chords.map((one, number) => [one, number]).filter(([one]) => one.bar === bar);
    return tag("div", { class: "bar" }, now.sections[bar] && tag("span", { class: "section" }, now.sections[bar]),
      ...inside.map(([one, number]) => button("go", {
        "data-number": number, "data-f": `chord-${number}`, "aria-pressed": number === place, class: one.sure ? "" : "unsure",
        "aria-label": `Bar ${bar + 1}: ${one.shown}${one.sure ? "" : `, not sure, ${one.percent} per cent`}` },
      tag("b", {}, one.shown), tag("small", {}, one.sure ? (one.given ? "✓" : `${one.percent} %`) : `? ${one.percent} %`))));
  }

  function chosen() {
    const here = now.chords[place];
    if (!here) return null;
    return tag("div", { class: "tools here" }, tag("strong", {}, `Bar ${here.bar + 1}`),
      ...here.offers.map(([text, shown], number) => toggle("choose", text === here.chord, { "data-number": number, "data-f": `offer-${number}` }, `${number + 1}: ${shown}`)),
      tag("label", { class: "field" }, quiet("Another chord"), tag("input", { type: "text", size: 8, value: "", "data-enter": "chord", "data-f": "chord", autocomplete: "off" })),
      button("right", {}, "This bar is right"),
      tag("label", { class: "field" }, quiet("Section from this bar"), tag("input", { type: "text", size: 8, maxlength: 40, value: now.sections[here.bar] ?? "", "data-enter": "section", "data-f": "section", autocomplete: "off" })));
  }

  const keys = {
    " ": acts.play, ArrowLeft: () => acts.bar({ by: -1 }), ArrowRight: () => acts.bar({ by: 1 }), t: tap,
    h: () => acts.times({ by: 0.5 }), d: () => acts.times({ by: 2 }), "[": () => acts.beat({ by: -1 }), "]": () => acts.beat({ by: 1 }),
    ",": () => acts.nudge({ by: -1 }), ".": () => acts.nudge({ by: 1 }), 1: () => choose(0), 2: () => choose(1), 3: () => choose(2),
    r: acts.right, n: acts.next, s: acts.save, z: acts.undo,
  };

  function entered(field) {
    const here = now.chords[place];
    if (field.dataset.enter === "chord") step("chord", { bar: here.bar, share: here.share, chord: field.value }, "…");
    else step("section", { bar: here.bar, name: field.value }, "…");
  }

  root.addEventListener("keydown", (event) => {
    event.stopPropagation(); // a notebook's own keys would take them
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const field = event.target.closest("input, select");
    if (field?.dataset.enter && event.key === "Enter") { event.preventDefault(); entered(field); return; }
    if (field || (event.target.closest("button, summary") && [" ", "Enter"].includes(event.key))) return;
    const act = keys[event.key.length === 1 ? event.key.toLowerCase() : event.key];
    if (!act || busy) return;
    event.preventDefault();
    act();
  });
  root.addEventListener("click", (event) => {
    const pressed = event.target.closest("[data-act]");
    if (pressed && !pressed.disabled && !busy) acts[pressed.dataset.act](pressed.dataset);
  });
  root.addEventListener("change", (event) => {
    const { set } = event.target.dataset;
    if (set === "meter" || set === "key") step(set, { [set]: event.target.value });
  });
  root.addEventListener("input", (event) => { if (event.target.dataset.set === "volume") playing.setVolume(Number(event.target.value)); });

  const size = new ResizeObserver(() => lines.draw());
  size.observe(root);
  root.setAttribute("aria-label", `Confirm what was heard of ${now.name}`);
  lines.draw();
  paint();
  return () => {
    playing.stop();
    size.disconnect();
    cancelAnimationFrame(frame);
  };
}
