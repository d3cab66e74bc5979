// The tension map: twelve roots by kinds, darker where an arpeggio serves better; a cell is a row of the list.
import { button, createBox, quiet, tag } from "./html.js";
import { REACHES } from "./rows.js";
import { REACH_GLYPHS } from "./signs.js";

const MOVES = { ArrowRight: [0, 1], ArrowLeft: [0, -1], ArrowUp: [-1, 0], ArrowDown: [1, 0] };
const STEPS = 12;

export function createMap(app) {
  const box = createBox(app.part("map")), last = createBox(app.part("made"));
  let shown = []; // what the cells that stand depend on

  function paint() {
    const { view } = app, by = [view?.view, app.chart, app.state.get().group, app.state.get().folded.includes("map")];
    if (!view) return;
    if (by.some((one, index) => one !== shown[index])) box.paint([app.fold("map", "Tension map of these kinds", () => [...legend(), tag("div", { class: "map-scroll" }, table(view))])]);
    shown = by;
    mark();
    last.paint(app.state.get().folded.includes("map") ? [] : [made()]);
  }

  // The cell that is chosen is marked on those that stand; without one the first can be reached by Tab.
  function mark() {
    const cells = [...box.element.querySelectorAll("[data-act='cell']")];
    const open = cells.find((one) => one.dataset.row === app.row?.id) ?? cells[0];
    for (const one of cells) {
      const isOn = one.dataset.row === app.row?.id;
      if (isOn !== (one.getAttribute("aria-pressed") === "true")) one.setAttribute("aria-pressed", isOn);
      if ((one === open) !== (one.tabIndex === 0)) one.tabIndex = one === open ? 0 : -1;
    }
  }

  const kinds = () => app.words.kinds.filter((one) => app.state.get().group === "all" || one.group === app.state.get().group);

  const legend = () => [tag("p", { class: "legend" }, ...REACHES.map((reach) => tag("span", {}, tag("span", { "aria-hidden": "true" }, REACH_GLYPHS[reach]), reach)),
    tag("span", {}, "weak ", tag("span", { class: "ramp", "aria-hidden": "true" }), " strong"))];

  function table(view) {
    const cells = new Map(view.rows.map((one) => [one.id, one])), high = Math.max(1, ...view.rows.map((one) => one.score));
    const root = view.notes.findIndex((note) => note.function === "1");
    const roots = Array.from({ length: STEPS }, (_, above) => view.notes[(root + above) % STEPS].name);
    const rows = kinds().map(({ kind, name }) => tag("tr", {}, tag("th", { scope: "row" }, name), ...roots.map((_, above) => {
      const one = cells.get(`${above}:${kind}`);
      if (!one) return tag("td", {}, tag("span", { class: "own", title: "the chord's own arpeggio" }, "·"));
      return tag("td", {}, cell(one, high));
    })));
    return tag("table", { class: "map" }, tag("caption", { class: "hidden" }, `Arpeggios over ${view.chord} by root and kind`),
      tag("thead", {}, tag("tr", {}, tag("td", {}), ...roots.map((name) => tag("th", { scope: "col" }, name)))), tag("tbody", {}, ...rows));
  }

  function cell(one, high) {
    const worth = Math.max(0, one.score) / high;
    return button("cell", {
      "data-row": one.id, "data-f": `cell-${one.id}`, tabindex: -1, "aria-pressed": false,
      class: worth > 0.62 ? "strong" : null, style: `--worth:${worth.toFixed(2)}`,
      "aria-label": `${one.name}, ${one.reach}, worth ${one.score}`,
    }, REACH_GLYPHS[one.reach]);
  }

  // What the chosen cell's number is made of.
  function made() {
    const said = app.wordsOf(app.row?.id);
    if (!app.row || !said) return tag("p", { class: "quiet made" }, "");
    const parts = said[1].map(([name, worth]) => `${name} ${worth > 0 ? "+" : ""}${worth}`).join(", ");
    return tag("p", { class: "made" }, tag("b", {}, `${app.row.name}: ${app.row.score}`), quiet(` = ${parts}`));
  }

  function step([down, along], id) {
    const [at, kind] = id.split(/:(.*)/s), names = kinds().map((one) => one.kind), known = new Set(app.view.rows.map((one) => one.id));
    let row = names.indexOf(kind), column = Number(at);
    do {
      column = (column + along + STEPS) % STEPS;
      row = (row + down + names.length) % names.length;
    } while (!known.has(`${column}:${names[row]}`));
    app.chooseRow(`${column}:${names[row]}`);
    box.focus(`cell-${column}:${names[row]}`);
  }

  box.element.addEventListener("keydown", (event) => {
    const id = event.target.closest("[data-act='cell']")?.dataset.row;
    if (id === undefined || !MOVES[event.key]) return;
    event.preventDefault();
    step(MOVES[event.key], id);
  });
  app.acts.cell = ({ row: id }) => app.chooseRow(id, { hear: true });
  return { paint };
}
