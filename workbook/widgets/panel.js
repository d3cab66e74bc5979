// A panel in the browser: its own controls, and the parts that the kernel makes from them.
import { afterPause, choice, control, keepKeys, part, say } from "./controls.js";

const TYPING = 250; // milliseconds without a key after which a text is taken

function field(spec, parent) {
  const about = { label: spec.label, name: spec.name, parent, look: `vb-field vb-${spec.kind}` };
  if (spec.kind === "choice") return choice(spec.choices, about);
  if (spec.kind === "text") return control("textarea", { ...about, attributes: { rows: 2, spellcheck: false } });
  const range = spec.kind === "number" ? { type: "number", min: spec.low, max: spec.high } : {};
  return control("input", { ...about, attributes: range });
}

function follow(model, spec, input) {
  const typed = spec.kind === "text" || spec.kind === "line";
  const tell = afterPause((value) => {
    model.set("values", { ...model.get("values"), [spec.name]: value });
    model.save_changes();
  }, typed ? TYPING : 0);
  input.addEventListener("input", () => {
    const value = spec.kind === "number" ? Number.parseInt(input.value, 10) : input.value;
    if (!Number.isNaN(value)) tell(value);
  });
}

export default {
  render({ model, el }) {
    el.classList.add("vb-panel");
    keepKeys(el);
    const form = part("div", "vb-form", el);
    const problem = part("p", "vb-problem", el, { role: "status" });
    const inputs = {}, places = {};
    for (const spec of model.get("fields")) {
      inputs[spec.name] = field(spec, form);
      follow(model, spec, inputs[spec.name]);
    }
    for (const [name, title] of model.get("titles")) {
      part("h3", "", el).textContent = title;
      places[name] = part("div", "", el, { "data-part": name });
    }
    const shown = {
      values: () => {
        for (const [name, value] of Object.entries(model.get("values"))) {
          if (inputs[name] !== document.activeElement) inputs[name].value = value;
        }
      },
      parts: () => {
        for (const [name, html] of Object.entries(model.get("parts"))) if (places[name]) places[name].innerHTML = html;
      },
      problem: () => say(problem, model.get("problem")),
    };
    for (const [name, show] of Object.entries(shown)) {
      model.on(`change:${name}`, show);
      show();
    }
  },
};
