// The progression panel in the browser: its own controls, so that the notebook's single-key commands leave them alone.
const PARTS = [["chart", "The changes"], ["harmony", "Home scale and chord scales"], ["necks", "On the neck"], ["drill", "The drill"]];

function field(name, label, control) {
  const row = document.createElement("label");
  row.className = "vb-field";
  const words = document.createElement("span");
  words.textContent = label;
  control.dataset.name = name;
  row.append(words, control);
  return row;
}

function choice(options) {
  const control = document.createElement("select");
  for (const value of options) control.append(new Option(value, value));
  return control;
}

export default {
  render({ model, el }) {
    el.classList.add("vb-panel");
    // Lab's command mode reads bare keys anywhere in a cell: keep ours inside the panel.
    el.addEventListener("keydown", (event) => event.stopPropagation());

    const changes = document.createElement("textarea");
    changes.rows = 2;
    changes.spellcheck = false;
    const key = choice(model.get("key_choices"));
    const tuning = choice(model.get("tuning_choices"));
    const position = document.createElement("input");
    position.type = "number";
    [position.min, position.max] = model.get("position_range").map(String);
    const controls = { changes, key, tuning, position };

    const form = document.createElement("div");
    form.className = "vb-form";
    form.append(field("changes", "Changes", changes), field("key", "Key", key), field("tuning", "Tuning", tuning),
      field("position", "Position (fret)", position));
    const problem = document.createElement("p");
    problem.className = "vb-problem";
    problem.setAttribute("role", "status");
    el.append(form, problem);

    const places = {};
    for (const [name, title] of PARTS) {
      const heading = document.createElement("h3");
      heading.textContent = title;
      places[name] = document.createElement("div");
      places[name].dataset.part = name;
      el.append(heading, places[name]);
    }

    const read = (name) => {
      const value = model.get(name);
      if (controls[name] !== document.activeElement) controls[name].value = value;
    };
    const show = () => {
      const parts = model.get("parts");
      for (const [name] of PARTS) if (parts[name] !== undefined) places[name].innerHTML = parts[name];
      problem.textContent = model.get("problem");
      problem.hidden = !problem.textContent;
    };
    const waiting = {};
    const say = (name, value) => {
      clearTimeout(waiting[name]);
      waiting[name] = setTimeout(() => { model.set(name, value); model.save_changes(); }, name === "changes" ? 250 : 0);
    };
    for (const [name, control] of Object.entries(controls)) {
      control.addEventListener("input", () => {
        const value = name === "position" ? Number.parseInt(control.value, 10) : control.value;
        if (!Number.isNaN(value)) say(name, value);
      });
      model.on(`change:${name}`, () => read(name));
      read(name);
    }
    model.on("change:parts", show);
    model.on("change:problem", show);
    show();
  },
};
