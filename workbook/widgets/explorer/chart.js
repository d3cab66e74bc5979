// The changes on top: typed in place, each chord a choice, a stretch of bars by drag, Shift and arrows, or its numbers.
import { button, createBox, select, tag } from "./html.js";

const ROOT = /^[A-G](?:#|b|♯|♭)?/;
const MOST_OFFERS = 6, AFTER_PRESS = 200; // chords offered; milliseconds in which a press on one still counts

export function createChart(app) {
  const text = app.part("text").querySelector("input"); // never painted anew: somebody types there
  const choices = createBox(app.part("choices")), told = createBox(app.part("told")), box = createBox(app.part("chart"));
  let dragged = null;

  function paintHead() {
    const state = app.state.get(), { words, problem } = app;
    if (text.ownerDocument.activeElement !== text || !text.value) text.value = state.changes;
    text.setAttribute("aria-invalid", Boolean(problem));
    choices.paint([
      select("key", state.key, [["", `${app.chart.homes.join(", ")}, as read`], ...words.keys], "Key"),
      select("tuning", state.tuning, words.tunings, "Tuning"),
    ]);
    paintTold();
  }

  // Under the field: what cannot be read, with what it may have meant, and chords that the word at the caret may become.
  function paintTold() {
    const { problem } = app, found = text.ownerDocument.activeElement === text ? offers() : [];
    told.paint([
      problem && tag("p", { class: "problem" }, tag("span", {}, problem.message),
        ...(problem.nearest ?? []).slice(0, 3).map((near) => button("mend", { "data-with": near, "data-f": `mend-${near}` }, `Take ${near}`))),
      ...found.map((one) => button("complete", { "data-with": one, "data-f": `complete-${one}`, tabindex: -1 }, one)),
    ]);
  }

  function paint() {
    const state = app.state.get(), { chart } = app, sections = new Map(chart.sections);
    const cells = chart.bars.map((events, bar) => {
      const inside = state.bars && bar >= state.bars[0] && bar <= state.bars[1];
      return tag("div", { class: inside ? "bar stretch" : "bar", "data-bar": bar },
        sections.has(bar) && tag("span", { class: "section" }, sections.get(bar)), ...events.map(radio));
    });
    box.paint([tag("div", { class: "bars", role: "radiogroup", "aria-label": "Changes: choose a chord; with Shift, a stretch of bars" }, ...cells)]);
  }

  function radio(place) {
    const event = app.chart.events[place], isOn = app.state.get().chord === place;
    const scale = event.scale && event.numeral ? `${event.numeral} · ${event.scale}` : "";
    return button("chord", {
      role: "radio", "aria-checked": isOn, tabindex: isOn ? 0 : -1, "data-chord": place, "data-f": `chord-${place}`, "data-holds": `,${event.pitches.join(",")},`,
      disabled: event.view === null, class: app.sounding === place ? "sounds" : null,
      "aria-label": `Bar ${event.bar + 1}, ${event.chord}${scale ? `, ${event.numeral}, ${event.scale}` : ""}`,
    }, tag("b", {}, event.chord), tag("small", {}, scale || " "));
  }

  // -- typing -----------------------------------------------------------------------------------------------------------
  function typed() {
    app.read({ changes: text.value });
    paintTold();
  }

  // The word at the caret: where it begins, and what stands there.
  function word() {
    const { value, selectionStart } = text, begin = value.slice(0, selectionStart).search(/[^\s|:]*$/);
    return { begin, end: selectionStart, said: value.slice(begin, selectionStart) };
  }

  function offers() {
    const { said } = word(), root = said.match(ROOT)?.[0];
    if (!root || said === root) return [];
    const rest = said.slice(root.length);
    return app.words.suffixes.filter((one) => one.startsWith(rest) && one !== rest).slice(0, MOST_OFFERS).map((one) => root + one);
  }

  function put(chord, { begin, end }) {
    text.setRangeText(chord, begin, end, "end");
    text.focus();
    typed();
  }

  text.addEventListener("input", typed);
  text.addEventListener("blur", () => setTimeout(paintTold, AFTER_PRESS));
  text.addEventListener("keydown", (event) => {
    const [first] = offers();
    if (event.key === "Tab" && first && !event.shiftKey && text.selectionStart === text.value.length) {
      event.preventDefault();
      put(first, word());
    }
    if (event.key === "Enter") app.read({ changes: text.value });
  });
  app.acts.complete = ({ with: chord }) => put(chord, word());
  app.acts.mend = ({ with: chord }) => {
    const wrong = app.problem?.value ?? "", at = wrong ? text.value.indexOf(wrong) : -1;
    if (at >= 0) put(chord, { begin: at, end: at + wrong.length });
  };

  // -- choosing ---------------------------------------------------------------------------------------------------------
  function choose(place, { stretches } = {}) {
    const { chart } = app, bar = chart.events[place].bar, from = chart.events[app.state.get().chord].bar;
    if (stretches) {
      const first = app.state.get().bars ?? [from, from], anchor = first[0] === from ? from : first[1] === from ? from : first[0];
      app.set({ bars: [Math.min(anchor, bar), Math.max(anchor, bar)] });
    } else app.choose(place);
  }

  function step(place, by, stretches) {
    const sounding = app.chart.events.flatMap((event, index) => (event.view === null ? [] : [index]));
    const at = sounding.indexOf(place), to = sounding[(at + by + sounding.length) % sounding.length];
    choose(to, { stretches });
    box.focus(`chord-${to}`);
  }

  app.acts.chord = ({ chord: place }, event) => choose(Number(place), { stretches: event.shiftKey });
  box.element.addEventListener("keydown", (event) => {
    const place = event.target.closest("[data-chord]")?.dataset.chord;
    const by = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    if (place === undefined || !by) return;
    event.preventDefault();
    step(Number(place), by, event.shiftKey);
  });
  const barOf = (event) => event.target.closest?.("[data-bar]")?.dataset.bar;
  box.element.addEventListener("pointerdown", (event) => {
    if (event.pointerType !== "touch" && barOf(event) !== undefined) dragged = Number(barOf(event));
  });
  box.element.addEventListener("pointermove", (event) => {
    const bar = barOf(event);
    if (dragged === null || bar === undefined || !event.buttons || Number(bar) === dragged) return;
    app.set({ bars: [Math.min(dragged, Number(bar)), Math.max(dragged, Number(bar))] }, { step: false });
  });
  box.element.addEventListener("pointerup", () => { dragged = null; });

  return { paint, paintHead, write: (changes) => { text.value = changes; } };
}
