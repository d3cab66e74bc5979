// How the chord at hand is read: numeral, tones, scale and its rivals, the way to the next chord.
import { button, createBox, tag } from "./html.js";
import { signOf } from "./signs.js";

export function createReading(app) {
  const box = createBox(app.part("reading"));

  function paint() {
    const { view } = app;
    if (!view) return;
    box.paint([
      tag("div", { class: "read" }, tag("b", {}, view.chord), tag("span", {}, `${view.numeral}, ${view.role}`),
        tag("span", { class: "tones" }, ...view.tones.map(tone)),
        tag("span", {}, "Scale ", tag("b", {}, view.scale), view.tensions.length && ` with ${view.tensions.map(named).join(", ")}`),
        view.avoid.length && tag("span", {}, `Not to rest on: ${view.avoid.join(", ")}`),
        view.next && tag("span", {}, `Into ${view.next}: ${moving(view.moves)}`)),
      tag("div", { class: "folds" }, app.fold("rivals", "Other scales for this chord", () => rivals(view)),
        app.fold("homes", "Other ways to hear the whole", homes)),
    ]);
  }

  const rivals = (view) => (view.rivals.length
    ? [tag("ul", {}, ...view.rivals.map(([name, why]) => tag("li", {}, tag("b", {}, name), `: ${why}`)))]
    : [tag("p", {}, "No other scale of the catalogue is usual here.")]);

  function tone([name, degree, role]) {
    const pitch = app.view.notes.findIndex((note) => note.name === name);
    return tag("span", { class: "tone", "data-pitch": pitch }, signOf(app.words.signs[role], role, degree), name);
  }

  function homes() {
    if (app.homes === null) return [tag("p", {}, "Being sought …")];
    if (!app.homes.length) return [tag("p", {}, "No other home comes near.")];
    return [tag("ul", { class: "plain" }, ...app.homes.map(([name, why, text]) => tag("li", {},
      button("home", { "data-key": text, "data-f": `home-${text}` }, `In ${name}`), ` ${why}`)))];
  }

  app.acts.home = ({ key }) => app.read({ key });
  return { paint };
}

const named = ([name, degree]) => `${name} (${degree})`;
const moving = (moves) => moves.filter(([, , by]) => Math.abs(by) === 1).map(([from, to]) => `${from}–${to}`).join(", ")
  || "no half step";
