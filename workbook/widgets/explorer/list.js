// The list of arpeggios over the chord: chips that filter, columns that sort, a row that is chosen, heard and pinned.
import { button, createBox, quiet, tag, toggle } from "./html.js";
import { GROUPS, REACHES } from "./rows.js";
import { PINS, reachMark } from "./signs.js";

const SAY = { triad: "Triads", seventh: "Sevenths", sixth: "Sixths", "added ninth": "Add9", quartal: "Quartal", pentatonic: "Pentatonics" };
const ONLY = { half: "Half step into the next", here: "Under this hand", known: "Student knows" };
const COLUMNS = [["reach", "Out"], ["name", "Arpeggio"], ["halves", "Half steps"], ["best", "Worth"]];
const FIRST = 20, MORE = 100; // rows drawn at first, and each time the end comes near

export function createList(app) {
  const head = createBox(app.part("filters")), box = createBox(app.part("rows"));
  let drawn = FIRST, shown = null; // rows that are drawn, of which they are the first

  function paint() {
    const state = app.state.get(), { view, rows, counts, total } = app, isOpen = !state.folded.includes("list");
    if (!view) return;
    head.paint([app.fold("list", `Arpeggios over ${view.chord}, ${rows.length} of ${view.rows.length}`, () => [
      chips("How far out", [["all", `All ${total}`], ...REACHES.map((reach) => [reach, `${capital(reach)} ${counts[reach]}`])], "reach"),
      chips("Kind", [["all", "All kinds"], ...GROUPS.map((group) => [group, SAY[group]])], "group"),
      tag("div", { class: "chips", role: "group", "aria-label": "Only" }, ...Object.entries(ONLY).map(([name, words]) => (
        toggle("only", state.only.includes(name), { "data-name": name, "data-f": `only-${name}` }, words)))),
      state.only.includes("known") && tag("label", { class: "field" }, quiet("What the student knows: kinds or arpeggios, such as m7, 7, Em7"),
        tag("input", { type: "text", value: state.student, "data-set": "student", "data-f": "set-student", spellcheck: "false" })),
    ])]);
    if (!isOpen) box.paint([]);
    else if (shown !== rows) { drawn = FIRST; paintRows(); }
    shown = isOpen ? rows : null;
    mark();
  }

  function paintRows() {
    const { view, rows } = app;
    box.paint([tag("div", { class: "scroll", tabindex: -1 }, tag("table", { class: "subs" },
      tag("caption", { class: "hidden" }, `Arpeggios over ${view.chord}`), tag("thead", {}, tag("tr", {}, ...COLUMNS.map(column), tag("th", { scope: "col" }, quiet("Pin")))),
      tag("tbody", {}, ...rows.slice(0, drawn).map(row)))),
    !rows.length && tag("p", {}, "No arpeggio passes these filters.")]);
  }

  // Which row is chosen and which are pinned is marked on the rows that stand: they are many, and only two change.
  function mark() {
    const chosen = app.row?.id ?? app.rows[0]?.id;
    for (const line of box.element.querySelectorAll("tr[data-row]")) {
      const id = line.dataset.row, isOn = app.row?.id === id, pin = app.pinOf(id), [choice, pins] = line.querySelectorAll("button");
      line.classList.toggle("chosen", isOn);
      if (isOn) choice.setAttribute("aria-current", "true"); else choice.removeAttribute("aria-current");
      choice.tabIndex = chosen === id ? 0 : -1;
      if ((pin >= 0) === (pins.getAttribute("aria-pressed") === "true") && pin < 0) continue;
      pins.setAttribute("aria-pressed", pin >= 0);
      pins.textContent = pin >= 0 ? `Pin ${PINS[pin]}` : "Pin";
    }
  }

  function chips(label, choices, name) {
    const now = app.state.get()[name];
    return tag("div", { class: "chips", role: "group", "aria-label": label }, ...choices.map(([key, words]) => (
      toggle("chip", now === key, { "data-name": name, "data-key": key, "data-f": `${name}-${key}` }, words))));
  }

  function column([name, words]) {
    const isOn = app.state.get().sort === name;
    return tag("th", { scope: "col", "aria-sort": isOn ? (name === "best" || name === "halves" ? "descending" : "ascending") : false },
      button("sort", { "data-name": name, "data-f": `sort-${name}` }, words, isOn && tag("span", { "aria-hidden": "true" }, " ▾")));
  }

  function row(one) {
    const { view } = app;
    const degrees = one.pitches.map((pitch) => tag("span", { "data-pitch": pitch }, `${view.notes[pitch].function} `));
    return tag("tr", { "data-row": one.id },
      tag("td", {}, reachMark(one.reach)),
      tag("th", { scope: "row" }, button("row", { "data-row": one.id, "data-f": `row-${one.id}`, tabindex: -1 },
        tag("b", {}, one.name), quiet(...degrees))),
      tag("td", {}, view.next ? `${one.halves} into ${view.next}` : "–"),
      tag("td", {}, one.score.toFixed(1)),
      tag("td", {}, toggle("pin", false, { "data-row": one.id, "data-f": `pin-${one.id}`, "aria-label": `Pin ${one.name}` }, "Pin")));
  }

  function step(by) {
    const at = app.rows.findIndex((one) => one.id === app.row?.id);
    const to = app.rows[Math.max(0, Math.min(app.rows.length - 1, at + by))];
    if (!to) return;
    while (app.rows.indexOf(to) >= drawn) { drawn += MORE; paintRows(); }
    app.chooseRow(to.id);
    box.focus(`row-${to.id}`);
  }

  box.element.addEventListener("keydown", (event) => {
    if (!event.target.closest("[data-row]")) return;
    const by = { ArrowDown: 1, ArrowUp: -1, PageDown: 10, PageUp: -10, Home: -1e4, End: 1e4 }[event.key];
    if (by) { event.preventDefault(); step(by); }
    if (event.key.toLowerCase() === "p" && !event.ctrlKey && !event.metaKey) app.acts.pin({ row: event.target.closest("[data-row]").dataset.row });
  });
  box.element.addEventListener("scroll", (event) => {
    const { scrollTop, clientHeight, scrollHeight } = event.target;
    if (drawn >= app.rows.length || scrollTop + clientHeight < scrollHeight - 200) return;
    drawn += MORE;
    paintRows();
    mark();
    box.element.querySelector(".scroll").scrollTop = scrollTop;
  }, true);

  Object.assign(app.acts, {
    chip: ({ name, key }) => app.set({ [name]: key }),
    only: ({ name }) => {
      const { only } = app.state.get();
      app.set({ only: only.includes(name) ? only.filter((one) => one !== name) : [...only, name] });
    },
    sort: ({ name }) => app.set({ sort: name }),
    row: ({ row: id }) => app.chooseRow(id, { hear: true }),
    pin: ({ row: id }) => app.pin(id),
  });
  return { paint };
}

const capital = (word) => word[0].toUpperCase() + word.slice(1);
