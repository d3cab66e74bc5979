// The explorer over one chart: what is set, what was told of it, and the views that show both.
import { createChart } from "./chart.js";
import { createClient } from "./client.js";
import { createHear } from "./hear.js";
import { createHearing } from "./hearing.js";
import { button, tag } from "./html.js";
import { createKept } from "./kept.js";
import { createLine } from "./line.js";
import { createLinked } from "./linked.js";
import { createList } from "./list.js";
import { createMap } from "./map.js";
import { createNeck } from "./neck.js";
import { createReading } from "./reading.js";
import { listed } from "./rows.js";
import { createState, DEFAULTS, readLink } from "./state.js";
import { createTake } from "./take.js";
import { createUses } from "./uses.js";

const FRAME = `<section class="vbx" aria-label="Explorer"><div class="in">
<div data-part="changes"><div class="row"><label class="field grow" data-part="text"><span class="quiet">Changes</span><input type="text"
spellcheck="false" autocomplete="off" autocapitalize="off"></label><div class="row" data-part="choices"></div></div>
<div class="offers" data-part="told"></div></div><div data-part="chart"></div><div data-part="reading"></div>
<div class="columns"><div class="left"><div data-part="filters"></div><div data-part="rows"></div><div data-part="map"></div><div data-part="made"></div></div>
<div class="right"><div data-part="neck"></div><div data-part="acts"></div><p class="said" role="status"></p><div data-part="hear"></div><div data-part="line"></div>
<div data-part="uses"></div><div data-part="take"></div></div></div></div></section>`;
const STRETCH = 4, MOST_PINS = 3, NARROW = 480; // bars of a drill where none are chosen; pins; pixels
const REASONS = 12, FEW_BARS = 16; // rows whose reason is asked for ahead; bars whose backing is
// Milliseconds after which the line is asked for, what is said and taken of it, the other chords, the plain page; after
// which an error is read aloud, since most are over with the next key.
const SOON = 20, SETTLED = 120, REST = 300, STILL = 900, TOLD = 1200;
const WRONG = 250; // milliseconds without a key after which an error is shown: most are half a word
// What a part of what is set makes new, beside the views.
const ASKS_LINE = ["changes", "key", "tuning", "chord", "row", "drill", "position", "bars", "pins"];

export function createApp({ model, element, mount }) {
  element.innerHTML = FRAME;
  const root = element.querySelector(".vbx"), client = createClient(model), controller = new AbortController();
  const app = {
    root, model, id: mount, words: model.get("words"), chart: model.get("chart"), boards: model.get("boards"), view: null,
    rows: [], counts: {}, total: 0, row: null, line: null, lineProblem: "", cells: null, shapes: null, grips: null, named: null,
    uses: null, usesProblem: "", homes: null, backing: null, problem: null, sounding: null, acts: {},
    part: (name) => root.querySelector(`[data-part="${name}"]`), ask: client.ask,
  };
  const kept = createKept({ model, mount }), asked = JSON.stringify(["changes", "key", "tuning"].map((name) => model.get("asked")[name]));
  const known = new Map(); // what was told of chords, by view
  const reasons = new Map(); // of each view: reason and parts by row
  const pending = {}; // timers by what waits
  let wasNarrow = false;
  const later = (name, wait, act) => { clearTimeout(pending[name]); pending[name] = setTimeout(act, wait); };
  app.kept = kept;
  app.state = createState({ ...model.get("state") }, (changed) => after(changed));

  // -- what is at hand --------------------------------------------------------------------------------------------------
  const event = () => app.chart.events[app.state.get().chord];
  app.tempo = () => app.state.get().tempo || app.chart.tempo;
  app.set = (patch, how) => app.state.set(patch, how);
  app.bars = () => {
    const { bars } = app.state.get(), last = app.chart.bars.length - 1, first = Math.min(event().bar, last);
    return bars ? [Math.min(bars[0], last), Math.min(bars[1], last)] : [first, Math.min(first + STRETCH - 1, last)];
  };
  app.isNarrow = () => wasNarrow; // as the observer saw it: a question to the page while it is painted costs a layout
  app.wordsOf = (id) => reasons.get(app.view?.view)?.get(id);
  app.pinOf = (id) => app.state.get().pins.findIndex(([place, row]) => row === id && app.chart.events[place]?.view === app.view.view);
  app.pinned = () => app.state.get().pins.flatMap(([place, id]) => {
    const view = known.get(app.chart.events[place]?.view), row = view?.rows.find((one) => one.id === id);
    return row ? [{ row, view }] : [];
  });
  app.say = (words) => { root.querySelector(".said").textContent = words; };
  // A part under its heading, which folds it; what is `inside` is made only where it is seen.
  app.fold = (name, title, inside) => tag("section", { class: "fold" }, tag("h2", {}, button("fold", {
    "data-name": name, "data-f": `fold-${name}`, "aria-expanded": !app.state.get().folded.includes(name) }, title)), ...(app.state.get().folded.includes(name) ? [] : inside()));
  app.unfold = (name) => app.set({ folded: app.state.get().folded.filter((one) => one !== name) }, { step: false });
  app.phraseCode = () => app.named?.code ?? "";

  let filtered = {}; // by what the rows at hand were found
  // Filters, row and counts from what is set: the browser's own work.
  function derive() {
    const state = app.state.get();
    if (!app.view) return;
    const { hand } = app.boards[state.position || 5];
    const by = JSON.stringify([state.reach, state.group, state.sort, state.only, state.student, state.only.includes("here") && hand]);
    if (app.view !== filtered.view || by !== filtered.by) {
      filtered = { view: app.view, by };
      Object.assign(app, listed(app.view, state, { kinds: app.words.kinds, strings: app.chart.strings, hand }));
    }
    app.row = state.row ? app.view.rows.find((one) => one.id === state.row) ?? null : null;
  }

  // -- what follows from a change ---------------------------------------------------------------------------------------
  function after(changed) {
    const has = (...names) => names.some((name) => changed.includes(name));
    if (has("changes", "key", "tuning")) { reread(); return; }
    if (has("chord")) { if (!isReading) shown = show(); return; } // of changes that are being read the answer shows it
    if (has("mode", "degrees", "chord")) follow();
    if (has("folded")) opened();
    if (has("picks")) tellPicks();
    if (has("what")) use();
    if (has("feel", "tempo")) app.backing = null;
    if (has("volume")) app.hearing.setVolume(app.state.get().volume);
    if (has(...ASKS_LINE)) lined();
    paint();
    keep();
    if (app.row && !app.wordsOf(app.row.id)) tellReasons();
  }

  // The views after all that they show is at hand: at once what is looked at, in the next moment what follows from it.
  function paint() {
    derive();
    for (const one of [views.chart, views.reading, views.list, views.neck]) one.paint();
    later("rest", 0, () => {
      views.chart.paintHead();
      for (const one of [views.map, views.hear, views.line, views.take, views.uses]) one.paint();
    });
  }

  let untouched = ""; // what was set when it was opened: nothing is written before somebody sets something
  // What is set is kept once nothing turns any more: the notebook's own work must not stand between a press and its picture.
  function keep() {
    later("keep", SETTLED, () => {
      const state = app.state.get();
      if (JSON.stringify(state) === untouched) return;
      untouched = "";
      model.set("state", state);
      model.save_changes();
      kept.write(asked, state);
      later("still", STILL, async () => {
        if (kept.isThere()) kept.still(await client.ask("still", { state }));
      });
    });
  }

  let shown = Promise.resolve(); // when the chord that was chosen last is the one at hand
  // The chord at hand as it was told, or asked for; then what else belongs to it.
  async function show() {
    const number = event().view;
    if (number === null) return;
    if (!known.has(number)) await fetchView(number);
    if (event().view !== number) return;
    app.view = known.get(number);
    app.shapes = null;
    app.grips = null;
    follow();
    paint();
    lined();
    keep();
    opened();
    if (app.state.get().picks.length) tellPicks();
    later("words", SETTLED, tellReasons);
    later("ahead", REST, ahead);
  }

  // Until a chord is told, the rows that stand are the last one's: a press on them would mean another arpeggio.
  let untold = 0;
  async function fetchView(number) {
    const rest = () => { for (const name of ["rows", "map", "neck"]) app.part(name).inert = untold > 0; };
    untold += 1;
    rest();
    try {
      known.set(number, await client.view(number));
    } finally {
      untold -= 1;
      rest();
    }
  }

  // The reasons of the first rows, and of the one that is chosen.
  async function tellReasons() {
    const { view } = app, told = reasons.get(view.view) ?? new Map();
    reasons.set(view.view, told);
    const rows = [...app.rows.slice(0, REASONS).map((one) => one.id), app.row?.id].filter((id) => id && !told.has(id));
    if (!rows.length) return;
    for (const [id, said] of Object.entries(await client.ask("why", { view: view.view, rows }))) told.set(id, said);
    if (app.view === view) paint();
  }

  // The other chords, while nobody waits.
  async function ahead() {
    const numbers = [...new Set(app.chart.events.map((one) => one.view))].filter((one) => one !== null && !known.has(one));
    const pins = app.state.get().pins.map(([place]) => app.chart.events[place]?.view);
    const next = numbers.find((one) => pins.includes(one)) ?? numbers[0];
    if (next === undefined) { if (!app.backing && app.chart.bars.length <= FEW_BARS) await app.fetchBacking(); return; }
    known.set(next, await client.view(next));
    if (pins.includes(next)) paint();
    later("ahead", REST / 5, ahead);
  }

  // What a view of the neck needs from theory.
  async function follow() {
    const { mode, degrees } = app.state.get(), { view } = app;
    if (mode === "targets") {
      try { app.shapes = await client.ask("shapes", { view: view.view, degrees: degrees || view.targets }); } catch (error) { app.say(error.message); }
    }
    if (mode === "grip" && !app.grips) app.grips = await client.ask("grips", { view: view.view });
    if (mode !== "arpeggio" && app.view === view) paint();
  }

  function lined() {
    const state = { ...app.state.get(), bars: app.bars() };
    later("line", SOON, async () => {
      try {
        app.line = await client.ask("line", { state });
        app.lineProblem = "";
      } catch (error) { app.lineProblem = error.message; }
      views.line.paint();
      later("cells", SETTLED, app.freshCells);
    });
  }

  app.freshCells = async () => {
    try { app.cells = await client.ask("cells", { state: { ...app.state.get(), bars: app.bars() } }); } catch { app.cells = []; }
    views.take.paint();
    return app.cells;
  };

  async function tellPicks() {
    const { picks, chord } = app.state.get();
    app.named = picks.length ? await client.ask("named", { picks, chord }) : null;
    views.neck.paint();
  }

  async function use() {
    const what = app.state.get().what || app.row?.text;
    app.usesProblem = "";
    if (!what || app.state.get().folded.includes("uses")) return;
    try { app.uses = await client.ask("uses", { what }); } catch (error) { app.usesProblem = error.message; }
    views.uses.paint();
  }

  async function opened() {
    const { folded } = app.state.get();
    if (!folded.includes("uses") && !app.uses) use();
    if (folded.includes("homes") || app.homes) return;
    app.homes = await client.ask("homes");
    views.reading.paint();
  }

  // -- acts -------------------------------------------------------------------------------------------------------------
  app.choose = (place, row = "") => {
    if (app.chart.events[place].view === null) return;
    app.set({ chord: place, row, shape: null, grip: 0 });
    if (!row) shown.then(() => { if (app.view === known.get(event().view)) app.hear("chord"); }); // not the one before
  };
  app.chooseRow = (id, { hear } = {}) => {
    app.set({ row: id, mode: "arpeggio" });
    if (hear && app.state.get().hear) app.hear("arpeggio");
    if (!app.state.get().what) use();
  };
  app.hear = (what, about) => { if (app.state.get().hear) app.hearing.hear(what, { again: true, ...about }); };
  app.pin = (id) => {
    const { pins, chord } = app.state.get(), at = app.pinOf(id);
    if (at >= 0) app.set({ pins: pins.filter((_, index) => index !== at) });
    else if (pins.length < MOST_PINS) app.set({ pins: [...pins, [chord, id]] });
    else app.say("Three are pinned: take one off first.");
  };
  app.sounds = (place) => {
    if (app.sounding === place) return;
    app.sounding = place;
    views.chart.paint();
  };
  app.light = (indexes) => views.line.light(indexes);
  app.paintHear = () => views.hear.paint();
  app.told = () => paint();
  app.fetchBacking = async () => {
    const { feel } = app.state.get();
    app.backing = await client.ask("backing", { feel, tempo: app.tempo() });
  };

  // New changes, key or tuning, read with each key. What cannot be read is told where it stands; the last good chart stays.
  let isReading = false, isStale = false, untaken = null; // what the kernel holds now, though it is not shown
  app.read = (patch) => {
    const link = patch.changes ? readLink(patch.changes) : null;
    if (link) views.chart.write(link.changes);
    app.state.set(link ?? patch);
    if (!link && app.problem) reread();
  };

  // One question at a time: what is set meanwhile is asked when that is answered.
  async function reread() {
    if (isReading) { isStale = true; return; }
    const { changes, key, tuning, chord } = app.state.get();
    let problem = null;
    isReading = true;
    isStale = false;
    clearTimeout(pending.wrong);
    try {
      const told = await client.ask("read", { changes, key, tuning, chord });
      untaken = { ...told, wanted: chord, boards: told.boards ?? untaken?.boards };
    } catch (error) { problem = error; }
    isReading = false;
    if (isStale) { reread(); return; }
    if (untaken) take(untaken);
    else if (event() && known.get(event().view) !== app.view) shown = show();
    untaken = null;
    if (problem) later("wrong", WRONG, () => refuse(problem));
  }

  function take(told) {
    client.forget();
    known.clear();
    reasons.clear();
    client.know(told.view);
    Object.assign(app, { chart: told.chart, boards: told.boards ?? app.boards, backing: null, homes: null, uses: null, problem: null });
    known.set(told.view.view, told.view);
    const { bars, pins, chord: now } = app.state.get(), last = told.chart.bars.length - 1;
    const chosen = now !== told.wanted && (told.chart.events[now]?.view ?? null) !== null; // meanwhile, by hand
    app.state.set({ chord: chosen ? now : told.chord, bars: bars && bars[1] > last ? null : bars, pins: pins.filter(([place]) => place < told.chart.events.length) }, { step: false });
    shown = show();
  }

  function refuse(error) {
    app.problem = error;
    views.chart.paintHead();
    later("told", TOLD, () => { if (app.problem === error) app.say(error.message); });
  }

  // -- the page ---------------------------------------------------------------------------------------------------------
  app.hearing = createHearing(app);
  const views = {
    chart: createChart(app), reading: createReading(app), list: createList(app), map: createMap(app), neck: createNeck(app),
    hear: createHear(app), line: createLine(app), uses: createUses(app), take: createTake(app),
  };
  createLinked(app);
  app.acts.fold = ({ name: part }) => {
    const { folded } = app.state.get();
    app.set({ folded: folded.includes(part) ? folded.filter((one) => one !== part) : [...folded, part] }, { step: false });
  };

  const fields = {
    key: (value) => app.read({ key: value }), tuning: (value) => app.read({ tuning: value }),
    volume: (value) => app.set({ volume: Number(value) }),
    firstBar: (value) => app.set({ bars: [Number(value), Math.max(Number(value), app.bars()[1])] }),
    lastBar: (value) => app.set({ bars: [Math.min(app.bars()[0], Number(value)), Number(value)] }),
  };
  root.addEventListener("change", ({ target }) => {
    const field = target.dataset.set;
    if (field) (fields[field] ?? ((value) => app.set({ [field]: value, ...(field === "degrees" ? { shape: null } : {}) })))(target.value);
  });
  root.addEventListener("input", ({ target }) => { if (target.dataset.set === "volume") fields.volume(target.value); });
  // What is painted anew between press and release is the same button still, though the browser sees none clicked.
  let held = null;
  root.addEventListener("pointerdown", ({ target }) => {
    held = target.closest("[data-act]");
    app.hearing.open();
  });
  root.addEventListener("pointerup", ({ target, pointerType, button: which }) => {
    const now = target.closest("[data-act]"), before = held;
    held = null;
    if (pointerType !== "mouse" || which || !now || !before || before.isConnected) return;
    if (now.dataset.act === before.dataset.act && now.dataset.f === before.dataset.f) now.click();
  });
  root.addEventListener("click", (happened) => {
    const pressed = happened.target.closest("[data-act]");
    if (pressed && !pressed.disabled) app.acts[pressed.dataset.act]?.(pressed.dataset, happened);
  });
  root.addEventListener("keydown", (pressed) => {
    pressed.stopPropagation(); // a notebook's own keys stay out
    const isTyping = pressed.target.matches("input, select, textarea");
    if ((pressed.ctrlKey || pressed.metaKey) && pressed.key.toLowerCase() === "z" && !isTyping) {
      pressed.preventDefault();
      if (pressed.shiftKey) app.state.redo(); else app.state.undo();
    }
    if (pressed.key === "Escape") app.hearing.stop();
    if (pressed.key.toLowerCase() === "c" && !isTyping && !pressed.ctrlKey && !pressed.metaKey) app.acts.copy();
  });

  // -- the beginning ----------------------------------------------------------------------------------------------------
  const first = model.get("first");
  if (first.view !== undefined) { known.set(first.view, first); client.know(first); }
  hideStill(mount, controller.signal);
  wasNarrow = root.clientWidth < NARROW;
  const before = kept.read(asked);
  if (before) app.state.set({ ...DEFAULTS, ...before }, { step: false });
  else if (wasNarrow) app.state.set({ folded: [...DEFAULTS.folded, "map"] }, { step: false });
  untouched = JSON.stringify(app.state.get());
  if (!before || ["changes", "key", "tuning"].every((part) => before[part] === model.get("state")[part])) show();
  app.hearing.fetch().catch((error) => app.say(error.message));
  const sized = new ResizeObserver(() => {
    const isNarrow = root.clientWidth < NARROW;
    if (isNarrow === wasNarrow) return;
    wasNarrow = isNarrow;
    if (app.view) views.line.paint();
  });
  sized.observe(root);
  return () => {
    app.hearing.stop();
    sized.disconnect();
    controller.abort();
    for (const timer of Object.values(pending)) clearTimeout(timer);
  };
}

// The plain page that stands for the explorer without a kernel is hidden while the live one is there.
function hideStill(mount, signal) {
  const sheet = document.createElement("style");
  sheet.textContent = `.jp-OutputArea:has(.${mount}) .vbx-still, .cell:has(.${mount}) .vbx-still { display: none; }`;
  document.head.append(sheet);
  signal.addEventListener("abort", () => sheet.remove());
}
