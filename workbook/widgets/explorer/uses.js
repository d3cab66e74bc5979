// The other way round: an arpeggio, typed or at hand, over each chord of these changes and over chords in the open.
import { button, createBox, quiet, tag } from "./html.js";
import { reachMark } from "./signs.js";

export function createUses(app) {
  const box = createBox(app.part("uses"));

  function paint() {
    const state = app.state.get();
    box.paint([app.fold("uses", "Where else does it fit?", () => [
      tag("label", { class: "field" }, quiet("An arpeggio, such as Em7 or D quartal triad"),
        tag("input", { type: "text", value: state.what || app.row?.text || "", "data-set": "what", "data-f": "set-what", spellcheck: "false" })),
      ...found(),
    ])]);
  }

  function found() {
    const { uses } = app;
    if (app.usesProblem) return [tag("p", { class: "problem" }, app.usesProblem)];
    if (!uses) return [];
    return [
      tag("h3", {}, `${uses.what} in these changes`), tag("ul", { class: "plain" }, ...uses.here.map(here)),
      tag("h3", {}, `${uses.what} in the open`), uses.open.length
        ? tag("ul", { class: "plain" }, ...uses.open.map((one) => tag("li", {}, reachMark(one.reach), tag("b", {}, one.chord), ` ${one.sound}`)))
        : tag("p", {}, "No usual chord takes it without a clash."),
    ];
  }

  function here(one) {
    if (!one.reach) return tag("li", {}, quiet(`Bar ${one.bar}, ${one.chord}: this kind is not judged.`));
    const rubs = one.clashes.split(" ").join(" and "), verb = one.clashes.includes(" ") ? "rub" : "rubs";
    const words = `${one.degrees}${one.clashes ? `; the ${rubs} ${verb} against a chord tone` : ""}`;
    return tag("li", {}, reachMark(one.reach), button("use", { "data-event": one.event, "data-row": one.row, "data-f": `use-${one.event}` }, `Bar ${one.bar}, ${one.chord}`), ` ${words}`);
  }

  Object.assign(app.acts, {
    use: ({ event, row }) => app.choose(Number(event), row),
    usePicks: () => {
      const chord = app.named?.chords[0];
      if (chord) app.set({ what: chord[1], folded: app.state.get().folded.filter((one) => one !== "uses") });
      else app.say("These notes have no usual chord name.");
    },
  });
  return { paint };
}
