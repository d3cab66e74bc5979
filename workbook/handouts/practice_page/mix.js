// The mix: each part on or off, its volume, one alone, and the volume of all.
import { $, make } from "./dom.js";

const WORDS = { line: "Line", chords: "Chords", bass: "Bass", drums: "Drums", recording: "Recording", click: "Click" };

export function createMix({ sound, parts, kept, change }) {
  const buttons = [];

  const sounds = (part) => (kept.alone ? kept.alone === part : kept.levels[part].on);

  function apply() {
    for (const part of parts) sound.setLevel(part, sounds(part) ? (kept.levels[part].volume / 100) ** 2 : 0);
    sound.setVolume(kept.volume / 100);
    for (const [one, is] of buttons) one.setAttribute("aria-pressed", is());
  }

  function changed() {
    apply();
    change();
  }

  function toggle(part) {
    kept.levels[part].on = kept.alone ? true : !kept.levels[part].on;
    kept.alone = "";
    changed();
  }

  function button(words, label, { is, act }) {
    const made = make("button", { type: "button", onclick: act, ...(label ? { "aria-label": label } : {}) }, words);
    buttons.push([made, is]);
    return made;
  }

  function slider(label, read, write) {
    return make("input", { type: "range", min: "0", max: "100", value: String(read()), "aria-label": label,
      oninput: (event) => { write(Number(event.target.value)); changed(); } });
  }

  function row(part) {
    const words = WORDS[part];
    return make("div", { className: "part" },
      button(words, "", { is: () => sounds(part), act: () => toggle(part) }),
      slider(`${words} volume`, () => kept.levels[part].volume, (value) => { kept.levels[part].volume = value; }),
      button("Alone", `${words} alone`, { is: () => kept.alone === part, act: () => {
        kept.alone = kept.alone === part ? "" : part;
        changed();
      } }));
  }

  $("p-parts").replaceChildren(...parts.map(row), make("div", { className: "part" }, make("span", {}, "All"),
    slider("Volume of all", () => kept.volume, (value) => { kept.volume = value; }), make("span")));
  $("p-chips").replaceChildren(...parts.map((part) => {
    const made = button(WORDS[part], "", { is: () => sounds(part), act: () => toggle(part) });
    made.dataset.part = part;
    return made;
  }));
  apply();
  return { toggle };
}
