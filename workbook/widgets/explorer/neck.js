// The neck: the arpeggio, a target shape or a grip over the chord, pins, scale notes, the way into the next chord.
import { boardPieces, line, neckFrame, placeKey, sign } from "../../browser/neck.js";
import { button, createBox, quiet, tag, toggle } from "./html.js";
import { pinAt, PINS } from "./signs.js";

const MARGINS = { side: 34, top: 26, below: 34 }, BESIDE = 17, UNDER = 30;
const RADIUS = 15, LETTER = 14, SMALL = 10; // units of the neck
const PIN_PLACES = [[-15, -15], [15, -15], [15, 15]]; // from the middle of a note: one corner for each pin
const UNBENT = 100; // frets by which a shape without a bend counts as farther
const MOVES = { ArrowRight: [0, 1], ArrowLeft: [0, -1], ArrowUp: [-1, 0], ArrowDown: [1, 0] };
const MODES = [["arpeggio", "Arpeggio"], ["targets", "Targets and bends"], ["grip", "Grips"]];
const PLAIN = { size: 1, text: 1, corners: [] };

export function createNeck(app) {
  const box = createBox(app.part("neck"));
  let focused = null;

  function paint() {
    const { view } = app;
    if (!view) return;
    const state = app.state.get();
    const isNew = box.paint([app.fold("neck", title(state, view), () => [
      modes(state), tag("p", { class: "why" }, why(state)), tag("div", { class: "neck-scroll" }, picture(state)), legend(state),
      tag("p", { class: "quiet linked" }, ""), tools(state), picks(state),
    ])]);
    const scroller = box.element.querySelector(".neck-scroll");
    if (isNew && state.left && scroller) scroller.scrollLeft = scroller.scrollWidth; // the nut is at the right

  }

  const title = (state, view) => {
    if (state.mode === "targets") return `Target notes over ${view.chord}`;
    if (state.mode === "grip") return `Grips of ${view.chord}`;
    return app.row ? `${app.row.name} over ${view.chord}` : `${view.chord} on the neck`;
  };

  function why(state) {
    if (state.mode === "targets") return "Chosen degrees close together, with the bends that each note offers; open signs are where a bend arrives.";
    if (state.mode === "grip") return app.grips?.length ? `${app.grips[at(app.grips, state.grip)].kind}, ${at(app.grips, state.grip) + 1} of ${app.grips.length}; numbers are fingers.` : "Being sought …";
    return app.row ? app.wordsOf(app.row.id)?.[0] ?? " " : "The chord's own notes. Choose an arpeggio to lay over it.";
  }

  // -- what stands on the neck -----------------------------------------------------------------------------------------
  // By place: {string, fret, pitch, role, label, name, next}; what is drawn strongly, in the order of drawing.
  function marks(state, board) {
    if (state.mode === "targets") return shapeMarks(shape(state));
    if (state.mode === "grip") return gripMarks(app.grips?.[at(app.grips ?? [], state.grip)]);
    const { view } = app, pitches = app.row ? app.row.pitches : view.notes.flatMap((note, pitch) => (note.chord ? [pitch] : []));
    const names = app.row ? new Map(app.row.pitches.map((pitch, index) => [pitch, app.row.names[index]])) : new Map();
    return everywhere(board, (pitch) => pitches.includes(pitch)).map((place) => {
      const note = view.notes[place.pitch];
      return { ...place, role: app.row ? note.laid : note.role, degree: app.row ? note.function : note.degree, name: names.get(place.pitch) ?? note.name };
    });
  }

  function everywhere(board, holds) {
    return app.chart.strings.flatMap(([, open], index) => board.notes.map(([fret]) => ({ string: index + 1, fret, pitch: (open + fret) % 12 }))
      .filter(({ pitch }) => holds(pitch)));
  }

  function shapeMarks(one) {
    if (!one) return [];
    return one.places.map(([string, fret, degree, name]) => {
      const pitch = pitchAt(string, fret);
      return { string, fret, pitch, degree, name, role: app.view.notes[pitch].laid };
    });
  }

  function gripMarks(one) {
    if (!one) return [];
    return one.places.map(([string, fret, finger, degree]) => {
      const pitch = pitchAt(string, fret);
      return { string, fret, pitch, degree, finger, name: app.view.notes[pitch].name, role: app.view.notes[pitch].role };
    });
  }

  const pitchAt = (string, fret) => (app.chart.strings[string - 1][1] + fret) % 12;
  const at = (all, index) => (all.length ? ((index % all.length) + all.length) % all.length : 0);

  // The shape that is shown: the one chosen, else the nearest to the position of those that bend.
  function shape(state) {
    const { shapes } = app;
    if (!shapes?.length) return null;
    if (state.shape !== null) return shapes[at(shapes, state.shape)];
    const far = (one) => Math.abs(one.low + one.high - 2 * (state.position || 5) - 3) + (one.bends.length ? 0 : UNBENT);
    return shapes.reduce((best, one) => (far(one) < far(best) ? one : best));
  }

  // The window: the position's; where a shape or a grip lies elsewhere, the position that holds it.
  function boardOf(state) {
    const { boards } = app;
    if (state.position === 0) return boards[0];
    const one = state.mode === "targets" ? shape(state) : null, grip = state.mode === "grip" ? app.grips?.[at(app.grips ?? [], state.grip)] : null;
    const frets = one ? [one.low, Math.max(one.high, ...one.bends.map(([, fret, by]) => fret + by))]
      : grip ? grip.places.map(([, fret]) => fret) : null;
    const usual = boards[state.position];
    if (!frets || (Math.min(...frets) >= usual.first && Math.max(...frets) <= usual.last)) return usual;
    const [low, high] = [Math.min(...frets), Math.max(...frets)];
    return Object.values(boards).find((board) => board.first <= low && board.last >= high && board !== boards[0]) ?? boards[0];
  }

  // Pins are arpeggios, to be compared with another; targets and grips stand alone.
  const pinsOf = (state) => (state.mode === "arpeggio" ? app.pinned() : []);

  // -- drawing ----------------------------------------------------------------------------------------------------------
  function picture(state) {
    const board = boardOf(state), frame = neckFrame(board, { margins: MARGINS, left: state.left }), { view } = app;
    const main = new Map(marks(state, board).map((one) => [placeKey(one.string, one.fret), one]));
    const pinned = pinsOf(state);
    const picked = new Set(state.picks.map(([string, fret]) => placeKey(string, fret)));
    const [low, high] = board.hand, band = state.position && state.mode === "arpeggio" ? hand(frame, low, high) : null;
    const places = everywhere(board, () => true), first = focused && places.some((one) => placeKey(one.string, one.fret) === focused)
      ? focused : placeKey(1, board.notes.at(0)[0]);
    const drawn = places.map((place) => {
      const key = placeKey(place.string, place.fret);
      const here = pinned.map(({ row }, index) => (row.pitches.includes(place.pitch) ? index : -1)).filter((index) => index >= 0);
      return placed({ frame, place, key, mark: main.get(key), here, state, view, isPicked: picked.has(key), isFirst: key === first });
    });
    return tag("svg", { viewBox: `0 0 ${frame.width} ${frame.height}`, class: state.position ? "neck" : "neck whole", role: "group",
      "aria-label": `Neck, ${board.first ? `frets ${board.first}` : "open strings"} to ${board.last}` },
    band, ...boardPieces(frame, { beside: BESIDE, under: UNDER }), ...barre(state, frame), ...ways(state, frame, main), ...drawn, ...bends(state, frame, main));
  }

  function hand(frame, low, high) {
    const [one, two] = [frame.note(low), frame.note(high)], half = frame.board.fret / 2;
    return ["rect", { x: Math.min(one, two) - half, width: Math.abs(two - one) + 2 * half, y: frame.top - 20, height: frame.bottom - frame.top + 40, class: "hand" }];
  }

  function placed({ frame, place, key, mark, here, state, view, isPicked, isFirst }) {
    const [x, y] = [frame.note(place.fret), frame.y(place.string)], note = view.notes[place.pitch];
    const inside = [["rect", { x: x - frame.wide(place.fret) / 2 + 2, y: y - frame.board.gap / 2 + 1, width: frame.wide(place.fret) - 4, height: frame.board.gap - 2, rx: 6, class: "area" }]];
    if (mark) inside.push(...signed([x, y], mark, state));
    else if (here.length) inside.push(["circle", { cx: x, cy: y, r: SMALL, class: "m-scale" }], word(x, y, state.names ? note.name : note.function, "l-scale", 9.5));
    else if (state.layers.includes("scale") && note.scale && state.mode === "arpeggio") inside.push(["circle", { cx: x, cy: y, r: 6, class: "m-scale" }]);
    inside.push(...here.map((index) => pinAt(index, x + PIN_PLACES[index][0], y + PIN_PLACES[index][1])));
    if (isPicked) inside.push(["circle", { cx: x, cy: y, r: RADIUS + 4, class: "picked" }]);
    return tag("g", { class: "place", role: "button", "data-act": "place", "data-place": key, "data-f": `place-${key}`, "data-pitch": place.pitch,
      tabindex: isFirst ? 0 : -1, "aria-pressed": isPicked, "aria-label": said(place, mark, note, here) }, ...inside);
  }

  function said(place, mark, note, here) {
    const where = `string ${place.string}, ${place.fret ? `fret ${place.fret}` : "open"}`;
    const what = mark ? `, ${mark.name}, ${mark.degree} of ${app.view.chord}${mark.finger ? `, finger ${mark.finger}` : ""}` : `, ${note.name}${note.scale ? ", scale note" : ""}`;
    return where + what + here.map((index) => `, pin ${PINS[index]}`).join("");
  }

  function signed([x, y], mark, state) {
    const look = app.words.signs[mark.role] ?? PLAIN, label = state.mode === "grip" && mark.finger ? mark.finger : state.names ? mark.name : mark.degree;
    return [sign([x, y], look, RADIUS, { class: `m-${mark.role}` }), word(x, y, String(label), `l-${mark.role}`, LETTER * look.text)];
  }

  const word = (x, y, text, look, size) => ["text", { x, y: y + size * 0.36, class: `label ${look}`, "font-size": text.length > 2 ? size * 0.78 : size }, text];

  // From each note that leads on by a half step to the next chord's tone, along its string.
  function ways(state, frame, main) {
    if (!state.layers.includes("next") || !app.view.next || state.mode === "grip") return [];
    return [...main.values()].flatMap((mark) => {
      const { way } = app.view.notes[mark.pitch], to = mark.fret + way;
      if (!way || !frame.board.notes.some(([fret]) => fret === to) || to < 1) return [];
      const y = frame.y(mark.string), [x1, x2] = [frame.note(mark.fret), frame.note(to)], pitch = (mark.pitch + way + 12) % 12;
      const piece = line([x1, y], [x2, y], "way");
      if (main.has(placeKey(mark.string, to))) return [piece];
      const goal = app.view.nextNotes[pitch];
      return [piece, tag("g", { class: "goal", "data-next": pitch }, ["circle", { cx: x2, cy: y, r: SMALL }], word(x2, y, state.names ? goal.name : goal.degree, "l-goal", 9.5))];
    });
  }

  // Arcs to where a bend of the shape arrives.
  function bends(state, frame, main) {
    const one = state.mode === "targets" ? shape(state) : null;
    if (!one) return [];
    return one.bends.flatMap(([string, fret, by, degree]) => {
      const y = frame.y(string), [x1, x2] = [frame.note(fret), frame.note(fret + by)];
      if (x2 === undefined || Number.isNaN(x2)) return [];
      const top = y - 20 - 6 * by, path = ["path", { d: `M${x1} ${y - RADIUS} Q${(x1 + x2) / 2} ${top - 14} ${x2} ${y - SMALL - 4}`, class: "bend" }];
      const head = ["path", { d: `M${x2} ${y - SMALL} l-4 -8 l8 0 z`, class: "bend-head" }];
      if (main.has(placeKey(string, fret + by))) return [path, head];
      return [path, head, ["circle", { cx: x2, cy: y, r: SMALL, class: "bend-goal" }], word(x2, y, degree, "l-goal", 9.5)];
    });
  }

  function barre(state, frame) {
    const one = state.mode === "grip" ? app.grips?.[at(app.grips ?? [], state.grip)]?.barre : null;
    if (!one || frame.note(one[0]) === undefined) return [];
    const x = frame.note(one[0]);
    return [["line", { x1: x, x2: x, y1: frame.y(one[2]), y2: frame.y(one[1]), class: "barre" }]];
  }

  // -- around it --------------------------------------------------------------------------------------------------------
  const modes = (state) => tag("div", { class: "chips", role: "group", "aria-label": "On the neck" },
    ...MODES.map(([mode, words]) => toggle("mode", state.mode === mode, { "data-mode": mode, "data-f": `mode-${mode}` }, words)));

  function tools(state) {
    return tag("div", { class: "tools" },
      tag("div", { class: "stepper", role: "group", "aria-label": "Position" }, button("position", { "data-by": -1, "data-f": "down", "aria-label": "Position down" }, "−"),
        tag("output", {}, state.position ? `position ${state.position}` : "whole neck"), button("position", { "data-by": 1, "data-f": "up", "aria-label": "Position up" }, "+")),
      toggle("whole", state.position === 0, {}, "Whole neck"),
      ...(state.mode === "targets" ? shapeTools(state) : []),
      ...(state.mode === "grip" ? [button("grip", {}, "Next grip")] : []),
      layer(state, "scale", "Scale notes"), layer(state, "next", "Into the next"),
      toggle("names", state.names, {}, "Note names"), toggle("left", state.left, {}, "Left-handed"));
  }

  const layer = (state, name, words) => toggle("layer", state.layers.includes(name), { "data-name": name, "data-f": `layer-${name}` }, words);

  const shapeTools = (state) => [
    tag("label", { class: "field small" }, quiet("Degrees"), tag("input", { type: "text", size: 8, value: state.degrees || app.view.targets, "data-set": "degrees", "data-f": "set-degrees", spellcheck: "false" })),
    button("shape", { "data-by": -1, "data-f": "shape-down" }, "Shape lower"), button("shape", { "data-by": 1, "data-f": "shape-up" }, "Shape higher"),
    button("family", {}, "Same shape, next strings"),
  ];

  function legend(state) {
    const used = [...new Set(marks(state, boardOf(state)).map((one) => one.role))], { signs } = app.words;
    const roles = Object.keys(signs).filter((role) => used.includes(role)).map((role) => tag("span", {}, small(sign([0, 0], signs[role], 11, { class: `m-${role}` })), signs[role].word));
    const more = [];
    if (state.layers.includes("scale") && state.mode === "arpeggio") more.push(tag("span", {}, small(["circle", { r: 6, class: "m-scale" }]), app.view.scale));
    if (state.layers.includes("next") && app.view.next && state.mode !== "grip") more.push(tag("span", {}, small(["circle", { r: SMALL, class: "goal-alone" }]), `half step into ${app.view.next}`));
    const pins = pinsOf(state).map(({ row, view }, index) => tag("span", { class: "pin-said" }, small(pinAt(index, 0, 0), "-6 -6 12 12"), `${row.name} over ${view.chord}`,
      button("unpin", { "data-index": index, "data-f": `unpin-${index}`, "aria-label": `Take pin ${PINS[index]} off` }, "off")));
    return tag("p", { class: "legend" }, ...roles, ...more, ...pins);
  }

  const small = (piece, viewBox = "-15 -15 30 30") => ["svg", { viewBox, class: "sign", "aria-hidden": "true" }, piece];

  function picks(state) {
    if (!state.picks.length) return null;
    const named = app.named;
    return tag("div", { class: "picks" }, tag("p", {}, tag("b", {}, `${state.picks.length} clicked: `), named ? named.notes.map(pretty).join(" ") : "…",
      named?.chords.length && quiet(` · as a chord ${named.chords.map(([name]) => name).join(", ")}`)),
    tag("div", { class: "tools" }, button("hearPicks", {}, "Hear them"), button("usePicks", {}, "Where do they fit?"), button("copyPhrase", {}, "Copy as phrase"), button("clearPicks", {}, "Clear")));
  }

  // -- acts -------------------------------------------------------------------------------------------------------------
  function move(place, [down, along]) {
    const [string, fret] = place.split(":").map(Number), { left } = app.state.get(), to = placeKey(string + down, fret + (left ? -along : along));
    if (!box.element.querySelector(`[data-place="${to}"]`)) return;
    focused = to;
    for (const one of box.element.querySelectorAll(".place[tabindex='0']")) one.setAttribute("tabindex", -1);
    box.element.querySelector(`[data-place="${to}"]`).setAttribute("tabindex", 0);
    box.focus(`place-${to}`);
  }

  box.element.addEventListener("keydown", (event) => {
    const place = event.target.closest?.("[data-place]")?.dataset.place;
    if (!place) return;
    if (MOVES[event.key]) { event.preventDefault(); move(place, MOVES[event.key]); }
    if (event.key === "Enter" || event.key === " ") { event.preventDefault(); app.acts.place({ place }); }
  });

  function family() {
    const now = shape(app.state.get()), { shapes } = app;
    const same = shapes.map((one, index) => [one, index]).filter(([one]) => one.family === now.family);
    const top = ([one]) => Math.min(...one.places.map(([string]) => string));
    const order = same.toSorted((one, two) => top(one) - top(two) || one[0].low - two[0].low);
    const here = order.findIndex(([one]) => one === now), on = order.find(([one], index) => index > here && top([one]) !== top([now])) ?? order[0];
    app.set({ shape: on[1] });
  }

  Object.assign(app.acts, {
    mode: ({ mode }) => app.set({ mode, shape: null, grip: 0 }),
    position: ({ by }) => app.set({ position: Math.max(1, Math.min(Object.keys(app.boards).length - 1, (app.state.get().position || 5) + Number(by))), shape: null }),
    whole: () => app.set({ position: app.state.get().position ? 0 : 5 }),
    layer: ({ name }) => {
      const { layers } = app.state.get();
      app.set({ layers: layers.includes(name) ? layers.filter((one) => one !== name) : [...layers, name] });
    },
    names: () => app.set({ names: !app.state.get().names }),
    left: () => app.set({ left: !app.state.get().left }),
    shape: ({ by }) => { if (app.shapes?.length) app.set({ shape: at(app.shapes, app.shapes.indexOf(shape(app.state.get())) + Number(by)) }); },
    family: () => { if (app.shapes?.length) family(); },
    grip: () => app.set({ grip: app.state.get().grip + 1 }),
    place: ({ place }) => {
      focused = place;
      const [string, fret] = place.split(":").map(Number), { picks: now } = app.state.get();
      const others = now.filter(([one, two]) => one !== string || two !== fret);
      app.set({ picks: others.length === now.length ? [...now, [string, fret]] : others });
      if (others.length === now.length) app.hear("note", { midi: app.chart.strings[string - 1][1] + fret });
    },
    clearPicks: () => app.set({ picks: [] }),
    unpin: ({ index }) => app.set({ pins: app.state.get().pins.filter((_, place) => place !== Number(index)) }),
  });
  return { paint };
}

const pretty = (name) => name.replaceAll("#", "♯").replaceAll("b", "♭");
