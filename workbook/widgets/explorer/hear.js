// What is heard: a button for each thing, the tempo, the feel, loop, click and one volume with its caution.
import { button, createBox, quiet, select, tag, toggle } from "./html.js";

const THINGS = [["chord", "Chord"], ["scale", "Scale over it"], ["arpeggio", "Arpeggio over it"], ["into", "Into the next"], ["line", "The line"], ["changes", "All changes"]];
const TEMPOS = [30, 300], STEP = 4;

export function createHear(app) {
  const box = createBox(app.part("hear"));

  function paint() {
    const state = app.state.get(), now = app.hearing.playing(), isReady = app.hearing.isReady();
    box.paint([app.fold("hear", "Hear", () => [
      tag("div", { class: "tools" }, ...THINGS.map(([name, words]) => toggle("hear", now === name, {
        "data-name": name, "data-f": `hear-${name}`, disabled: !isReady || (name === "into" && !app.view?.next) },
      now === name ? `Stop: ${words}` : words))),
      !isReady && tag("p", { class: "quiet" }, "The sounds are being made …"),
      tag("div", { class: "tools" },
        tag("div", { class: "stepper", role: "group", "aria-label": "Tempo" }, button("tempo", { "data-by": -STEP, "data-f": "slower", "aria-label": "Slower" }, "−"),
          tag("output", {}, `♩ = ${app.tempo()}`), button("tempo", { "data-by": STEP, "data-f": "faster", "aria-label": "Faster" }, "+")),
        select("feel", state.feel || app.chart.feel, app.words.feels, "Feel"),
        toggle("loop", state.loop, {}, "Loop"), toggle("click", state.click, {}, "Click"), toggle("hearing", state.hear, {}, "Sound as I choose"),
        tag("label", { class: "field" }, quiet("Volume"), tag("input", { type: "range", min: 0, max: 1, step: 0.05, value: state.volume, "data-set": "volume", "data-f": "set-volume" }))),
      tag("p", { class: "quiet" }, "Begin softly: loud playback harms hearing, most of all on headphones."),
    ])]);
  }

  Object.assign(app.acts, {
    hear: ({ name }) => app.hearing.hear(name),
    hearPicks: () => { if (app.named) app.hearing.hear("picks"); },
    tempo: ({ by }) => {
      const tempo = Math.max(TEMPOS[0], Math.min(TEMPOS[1], app.tempo() + Number(by)));
      app.set({ tempo });
      app.hearing.setTempo(tempo);
    },
    loop: () => app.set({ loop: !app.state.get().loop }),
    click: () => { app.set({ click: !app.state.get().click }); app.hearing.setClick(app.state.get().click); },
    hearing: () => app.set({ hear: !app.state.get().hear }),
  });
  return { paint };
}
