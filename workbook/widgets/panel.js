// A panel in the browser: its own controls, so that the notebook's single-key commands leave them alone.
function field(spec) {
  const row = document.createElement("label");
  row.className = `vb-field vb-${spec.kind}`;
  const words = document.createElement("span");
  words.textContent = spec.label;
  const control = document.createElement({ text: "textarea", choice: "select" }[spec.kind] ?? "input");
  if (spec.kind === "text") [control.rows, control.spellcheck] = [2, false];
  if (spec.kind === "choice") for (const value of spec.choices) control.append(new Option(value, value));
  if (spec.kind === "number") [control.type, control.min, control.max] = ["number", spec.low, spec.high];
  control.dataset.name = spec.name;
  row.append(words, control);
  return [row, control];
}

export default {
  render({ model, el }) {
    el.classList.add("vb-panel");
    // Lab's command mode reads bare keys anywhere in a cell: keep ours inside the panel.
    el.addEventListener("keydown", (event) => event.stopPropagation());
    const form = document.createElement("div");
    form.className = "vb-form";
    const problem = document.createElement("p");
    problem.className = "vb-problem";
    problem.setAttribute("role", "status");
    el.append(form, problem);

    const controls = {};
    const waiting = {};
    const say = (spec, value) => {
      clearTimeout(waiting[spec.name]);
      waiting[spec.name] = setTimeout(() => {
        model.set("values", { ...model.get("values"), [spec.name]: value });
        model.save_changes();
      }, ["text", "line"].includes(spec.kind) ? 250 : 0);
    };
    for (const spec of model.get("fields")) {
      const [row, control] = field(spec);
      control.addEventListener("input", () => {
        const value = spec.kind === "number" ? Number.parseInt(control.value, 10) : control.value;
        if (!Number.isNaN(value)) say(spec, value);
      });
      controls[spec.name] = control;
      form.append(row);
    }
    const places = {};
    for (const [name, title] of model.get("titles")) {
      const heading = document.createElement("h3");
      heading.textContent = title;
      places[name] = document.createElement("div");
      places[name].dataset.part = name;
      el.append(heading, places[name]);
    }
    const read = () => {
      for (const [name, value] of Object.entries(model.get("values"))) {
        if (controls[name] !== document.activeElement) controls[name].value = value;
      }
    };
    const show = () => {
      for (const [name, html] of Object.entries(model.get("parts"))) if (places[name]) places[name].innerHTML = html;
      problem.textContent = model.get("problem");
      problem.hidden = !problem.textContent;
    };
    model.on("change:values", read);
    model.on("change:parts", show);
    model.on("change:problem", show);
    read();
    show();
  },
};
