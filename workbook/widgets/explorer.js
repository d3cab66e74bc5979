// The neck explorer in the browser: draws the board it is given, keeps layers, labels and picks here, asks the kernel
// only for theory. Every place can be reached with the arrow keys; Enter or Space picks it.
const FRET = 58, OPEN = 46, GAP = 38, R = 15, LEFT = 40, TOP = 26;

// SVG as text: one assignment draws the whole neck, several times faster than an element at a time.
function tag(name, attributes, inside = "") {
  const said = Object.entries(attributes).map(([key, value]) => ` ${key}="${escaped(value)}"`).join("");
  return `<${name}${said}>${inside}</${name}>`;
}

function escaped(value) {
  return String(value).replace(/[&<>"]/g, (sign) => ({ "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;" })[sign]);
}

function control(kind, label, name, parent, fill) {
  const row = document.createElement("label");
  const words = document.createElement("span");
  words.textContent = label;
  const input = document.createElement(kind);
  input.dataset.name = name;
  if (fill) fill(input);
  row.append(words, input);
  parent.append(row);
  return input;
}

export default {
  render({ model, el }) {
    el.classList.add("vb-neck");
    el.addEventListener("keydown", (event) => event.stopPropagation()); // Lab's single-key commands stay out
    const form = document.createElement("div");
    form.className = "vb-neck-form";
    const number = (input) => { input.type = "number"; input.min = 0; input.max = 15; };
    const inputs = {
      chord: control("input", "Chord", "chord", form),
      scale: control("input", "Scale (empty: the first choice)", "scale", form),
      next_chord: control("input", "Next chord", "next_chord", form),
      position: control("input", "Position (0: whole neck)", "position", form, number),
      tuning: control("select", "Tuning", "tuning", form, (select) => {
        for (const value of model.get("tuning_choices")) select.append(new Option(value, value));
      }),
    };
    const switches = document.createElement("fieldset");
    switches.innerHTML = "<legend>Show</legend>";
    const problem = document.createElement("p");
    problem.className = "vb-neck-problem";
    problem.setAttribute("role", "status");
    const stage = document.createElement("div");
    stage.className = "vb-neck-stage";
    const answer = document.createElement("div");
    answer.className = "vb-neck-answer";
    answer.setAttribute("aria-live", "polite");
    const clear = document.createElement("button");
    clear.type = "button";
    clear.textContent = "Clear picks";
    el.append(form, switches, problem, stage, clear, answer);

    const here = { labels: "degree", hidden: new Set(), at: null, layers: "" };
    const key = (string, fret) => `${string}:${fret}`;
    const picked = () => new Set(model.get("picked").map(([string, fret]) => key(string, fret)));

    function toggle(string, fret) {
      const now = model.get("picked");
      const kept = now.filter(([s, f]) => s !== string || f !== fret);
      model.set("picked", kept.length === now.length ? [...now, [string, fret]] : kept);
      paint();
      model.save_changes();
    }

    function drawSwitches(board) {
      here.layers = board.layers.join();
      switches.querySelectorAll("label").forEach((old) => old.remove());
      board.layers.forEach((name, index) => {
        const box = control("input", name, `layer-${index}`, switches, (input) => { input.type = "checkbox"; });
        box.checked = !here.hidden.has(index);
        box.addEventListener("change", () => { box.checked ? here.hidden.delete(index) : here.hidden.add(index); paint(); });
      });
      const names = control("input", "note names", "names", switches, (input) => { input.type = "checkbox"; });
      names.checked = here.labels === "name";
      names.addEventListener("change", () => { here.labels = names.checked ? "name" : "degree"; paint(); });
      const mirror = control("input", "left-handed", "left_handed", switches, (input) => { input.type = "checkbox"; });
      mirror.checked = model.get("left_handed");
      mirror.addEventListener("change", () => { model.set("left_handed", mirror.checked); paint(); model.save_changes(); });
    }

    function paint() {
      const board = model.get("board");
      if (!board.strings) return;
      const focusWas = stage.contains(document.activeElement) ? here.at : null;
      const low = Math.max(board.first, 1), open = board.first === 0;
      const along = (open ? OPEN : 0) + (board.last - low + 1) * FRET;
      const width = along + LEFT * 2, height = TOP * 2 + (board.strings.length - 1) * GAP + 24;
      const left = model.get("left_handed");
      const px = (value) => (left ? width - LEFT - value : LEFT + value);
      const wire = (fret) => (open ? OPEN : 0) + (fret - low + 1) * FRET;
      const nx = (fret) => px(fret === 0 ? OPEN / 2 : wire(fret) - FRET / 2);
      const sy = (string) => TOP + (string - 1) * GAP;
      const bottom = sy(board.strings.length);
      const drawn = [];
      const line = (x1, x2, y1, y2, look) => drawn.push(tag("line", { x1, x2, y1, y2, class: look }));
      const word = (x, y, look, text) => tag("text", { x, y, class: look }, escaped(text));
      for (let fret = low - 1; fret <= board.last; fret += 1) {
        line(px(wire(fret)), px(wire(fret)), TOP, bottom, fret === 0 ? "nut" : "wire");
      }
      board.strings.forEach((name, index) => {
        line(px(open ? OPEN : 0), px(along), sy(index + 1), sy(index + 1), "string");
        drawn.push(word(px(-18), sy(index + 1) + 5, "quiet", name));
      });
      for (let fret = low; fret <= board.last; fret += 1) {
        drawn.push(word(nx(fret), bottom + 36, board.inlays.includes(fret) ? "quiet bold" : "quiet", fret));
      }
      for (const hint of board.hints) {
        line(nx(hint.from), nx(hint.to), sy(hint.string), sy(hint.string), "hint");
        drawn.push(tag("g", { class: "hint-end" }, tag("circle", { cx: nx(hint.to), cy: sy(hint.string), r: 10 })
          + word(nx(hint.to), sy(hint.string) + 4, "small", hint.label)));
      }
      const shown = board.dots.filter((dot) => !here.hidden.has(dot.layer));
      const dots = new Map(shown.map((dot) => [key(dot.string, dot.fret), dot]));
      const chosen = picked();
      const looks = model.get("looks");
      for (let string = 1; string <= board.strings.length; string += 1) {
        for (let fret = board.first; fret <= board.last; fret += 1) {
          const name = key(string, fret), dot = dots.get(name), x = nx(fret), y = sy(string), wide = fret ? FRET : OPEN;
          const inside = [tag("rect", { x: x - wide / 2 + 2, y: y - GAP / 2 + 1, width: wide - 4, height: GAP - 2, class: "area" })];
          if (dot) {
            const look = looks[dot.role], r = R * look.size;
            const paintOf = { fill: look.fill, stroke: look.stroke, "stroke-width": 2 };
            inside.push(look.corners.length
              ? tag("polygon", { points: look.corners.map(([dx, dy]) => `${x + r * dx},${y + r * dy}`).join(" "), ...paintOf })
              : tag("circle", { cx: x, cy: y, r, ...paintOf }));
            inside.push(tag("text", { x, y: y + 5 * look.text, fill: look.ink, class: "label", "font-size": 13.5 * look.text },
              escaped(dot[here.labels])));
          }
          if (chosen.has(name)) inside.push(tag("circle", { cx: x, cy: y, r: R + 4, class: "ring" }));
          drawn.push(tag("g", {
            class: chosen.has(name) ? "place picked" : "place", role: "button", "data-place": name,
            "aria-pressed": chosen.has(name), tabindex: (here.at ?? key(1, board.first)) === name ? 0 : -1,
            "aria-label": `string ${string} ${fret ? `fret ${fret}` : "open"}${dot ? `, ${dot.spoken}` : ""}`,
          }, inside.join("")));
        }
      }
      stage.innerHTML = tag("svg", { viewBox: `0 0 ${width} ${height}`, role: "group", "aria-label": board.title }, drawn.join(""));
      if (focusWas) stage.querySelector(`[data-place='${focusWas}']`)?.focus();
    }

    const placeOf = (event) => event.target.closest("[data-place]")?.dataset.place.split(":").map(Number);
    stage.addEventListener("click", (event) => {
      const place = placeOf(event);
      if (!place) return;
      here.at = key(...place);
      toggle(...place);
    });
    stage.addEventListener("keydown", (event) => {
      const place = placeOf(event);
      if (!place) return;
      const board = model.get("board"), way = model.get("left_handed") ? -1 : 1;
      const moves = { ArrowRight: [0, way], ArrowLeft: [0, -way], ArrowUp: [-1, 0], ArrowDown: [1, 0] };
      if (moves[event.key]) {
        event.preventDefault();
        const to = [place[0] + moves[event.key][0], place[1] + moves[event.key][1]];
        if (to[0] < 1 || to[0] > board.strings.length || to[1] < board.first || to[1] > board.last) return;
        here.at = key(...to);
        stage.querySelectorAll("[tabindex='0']").forEach((one) => one.setAttribute("tabindex", -1));
        const next = stage.querySelector(`[data-place='${here.at}']`);
        next.setAttribute("tabindex", 0);
        next.focus();
      } else if (event.key === "Enter" || event.key === " ") {
        event.preventDefault();
        here.at = key(...place);
        toggle(...place);
      }
    });

    const waiting = {};
    for (const [name, input] of Object.entries(inputs)) {
      const read = () => { if (input !== document.activeElement) input.value = model.get(name); };
      input.addEventListener("input", () => {
        const value = name === "position" ? Number.parseInt(input.value, 10) : input.value;
        if (Number.isNaN(value)) return;
        clearTimeout(waiting[name]);
        if (name === "position" && model.get("boards")[value]) model.set("board", model.get("boards")[value]);
        waiting[name] = setTimeout(() => { model.set(name, value); model.save_changes(); }, input.type === "text" ? 150 : 0);
      });
      model.on(`change:${name}`, read);
      read();
    }
    clear.addEventListener("click", () => { model.set("picked", []); paint(); model.save_changes(); });
    model.on("change:board", () => {
      const board = model.get("board");
      if (board.layers.join() !== here.layers) drawSwitches(board);
      paint();
    });
    model.on("change:picked", paint);
    model.on("change:left_handed", paint);
    model.on("change:answer", () => { answer.innerHTML = model.get("answer"); });
    model.on("change:problem", () => { problem.textContent = model.get("problem"); problem.hidden = !model.get("problem"); });
    drawSwitches(model.get("board"));
    paint();
    answer.innerHTML = model.get("answer");
    problem.hidden = !model.get("problem");
    problem.textContent = model.get("problem");
  },
};
