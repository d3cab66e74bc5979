// The neck explorer in the browser: draws the board it is given, keeps layers, labels and focus here, asks the kernel
// only for theory. Every place can be reached with the arrow keys; Enter or Space picks it.
import { placeKey } from "../browser/neck.js";
import { afterPause, checkbox, choice, control, keepKeys, part, say } from "./controls.js";
import { explorerNeck } from "./explorer_board.js";

const TYPING = 150; // milliseconds without a key after which a text is taken
const MOVES = { ArrowRight: [0, 1], ArrowLeft: [0, -1], ArrowUp: [-1, 0], ArrowDown: [1, 0] };

// The neck and what is done on it. `seen` holds what the kernel need not know.
function createStage(model, stage, seen) {
  const board = () => model.get("board");
  const left = () => model.get("left_handed");

  function paint() {
    if (!board().strings) return;
    const focused = stage.contains(document.activeElement);
    stage.innerHTML = explorerNeck({
      board: board(), looks: model.get("looks"), left: left(), ...seen,
      picked: new Set(model.get("picked").map(([string, fret]) => placeKey(string, fret))),
    });
    if (focused) stage.querySelector(`[data-place='${seen.focused}']`)?.focus();
  }

  function pick([string, fret]) {
    seen.focused = placeKey(string, fret);
    const now = model.get("picked");
    const others = now.filter(([s, f]) => s !== string || f !== fret);
    model.set("picked", others.length === now.length ? [...now, [string, fret]] : others);
    paint();
    model.save_changes();
  }

  function move([string, fret], [down, along]) {
    const to = [string + down, fret + (left() ? -along : along)];
    const outside = to[0] < 1 || to[0] > board().names.length || to[1] < board().first || to[1] > board().last;
    if (outside) return;
    seen.focused = placeKey(...to);
    for (const one of stage.querySelectorAll("[tabindex='0']")) one.setAttribute("tabindex", -1);
    const next = stage.querySelector(`[data-place='${seen.focused}']`);
    next.setAttribute("tabindex", 0);
    next.focus();
  }

  stage.addEventListener("click", (event) => {
    const place = placeOf(event);
    if (place) pick(place);
  });
  stage.addEventListener("keydown", (event) => {
    const place = placeOf(event), presses = event.key === "Enter" || event.key === " ";
    if (!place || !(presses || MOVES[event.key])) return;
    event.preventDefault();
    if (presses) pick(place);
    else move(place, MOVES[event.key]);
  });
  return paint;
}

const placeOf = (event) => event.target.closest("[data-place]")?.dataset.place.split(":").map(Number);

// Layers, labels and hand: what changes the picture without asking the kernel.
function createSwitches(model, parent, seen, paint) {
  let drawn = "";
  return () => {
    const { layers } = model.get("board");
    if (layers.join() === drawn) return;
    drawn = layers.join();
    for (const old of parent.querySelectorAll("label")) old.remove();
    layers.forEach((name, index) => checkbox(!seen.hidden.has(index), (on) => {
      seen.hidden[on ? "delete" : "add"](index);
      paint();
    }, { label: name, name: `layer-${index}`, parent }));
    checkbox(seen.labels === "name", (on) => { seen.labels = on ? "name" : "degree"; paint(); },
      { label: "note names", name: "names", parent });
    checkbox(model.get("left_handed"), (on) => { model.set("left_handed", on); paint(); model.save_changes(); },
      { label: "left-handed", name: "left_handed", parent });
  };
}

function createForm(model, parent) {
  const text = (label, name) => control("input", { label, name, parent });
  return {
    chord: text("Chord", "chord"),
    scale: text("Scale (empty: the first choice)", "scale"),
    next_chord: text("Next chord", "next_chord"),
    position: control("input", {
      label: "Position (0: whole neck)", name: "position", parent, attributes: { type: "number", min: 0, max: 15 } }),
    tuning: choice(model.get("tuning_choices"), { label: "Tuning", name: "tuning", parent }),
  };
}

// What is typed goes to the kernel; a position whose board was sent is shown at once.
function follow(model, name, input) {
  const tell = afterPause((value) => { model.set(name, value); model.save_changes(); }, input.type === "text" ? TYPING : 0);
  const read = () => { if (input !== document.activeElement) input.value = model.get(name); };
  input.addEventListener("input", () => {
    const value = name === "position" ? Number.parseInt(input.value, 10) : input.value;
    if (Number.isNaN(value)) return;
    const sent = name === "position" && model.get("boards")[value];
    if (sent) model.set("board", sent);
    tell(value);
  });
  model.on(`change:${name}`, read);
  read();
}

export default {
  render({ model, el }) {
    el.classList.add("vb-neck");
    keepKeys(el);
    const form = part("div", "vb-neck-form", el);
    const switches = part("fieldset", "", el);
    part("legend", "", switches).textContent = "Show";
    const problem = part("p", "vb-neck-problem", el, { role: "status" });
    const stage = part("div", "vb-neck-stage", el);
    const clear = part("button", "", el, { type: "button" });
    clear.textContent = "Clear picks";
    const answer = part("div", "vb-neck-answer", el, { "aria-live": "polite" });

    const seen = { labels: "degree", hidden: new Set(), focused: null };
    const paint = createStage(model, stage, seen);
    const paintSwitches = createSwitches(model, switches, seen, paint);
    for (const [name, input] of Object.entries(createForm(model, form))) follow(model, name, input);
    clear.addEventListener("click", () => { model.set("picked", []); paint(); model.save_changes(); });

    const shown = {
      board: () => { paintSwitches(); paint(); }, picked: paint, left_handed: paint,
      answer: () => { answer.innerHTML = model.get("answer"); },
      problem: () => say(problem, model.get("problem")),
    };
    for (const [name, show] of Object.entries(shown)) {
      model.on(`change:${name}`, show);
      show();
    }
  },
};
