// The page: its controls, its keys and what it keeps.
function choose(number, scroll = false) {
  if (playing) pause();
  line = data.lines.find((one) => one.figure === number) ?? data.lines[0];
  figure = $(`figure-${line.figure}`);
  document.querySelectorAll("figure.chosen").forEach((one) => one.classList.remove("chosen"));
  figure.classList.add("chosen");
  $("p-line").value = line.figure;
  shown = -1;
  place = 0;
  setLoop(null);
  setSpeed(speed, false);
  drawNeck();
  show(0);
  label();
  if (scroll) figure.scrollIntoView({ block: "center" });
}

function label() {
  $("p-play").textContent = playing ? "Pause" : "Play";
  if (!playing) $("p-where").textContent = `bar ${Math.floor(place / line.bar) + 1}`;
  document.querySelectorAll("[data-play]").forEach((one) => {
    const mine = Number(one.dataset.play) === line.figure && playing;
    one.textContent = mine ? "Pause" : "Play this";
    one.setAttribute("aria-label", `${mine ? "Pause" : "Play this:"} ${one.dataset.name}`);
  });
}

let warned = false;
function caution() {
  if (warned) return;
  warned = true;
  $("p-care").hidden = false;
  makeRoom(); // at once: the page is about to scroll
}

function toggle() { playing ? pause() : play(); }

function log() {
  for (const one of data.lines) {
    const row = document.querySelector(`[data-minutes="${one.figure}"]`);
    if (row) row.textContent = `${(kept.minutes[one.figure] ?? 0).toFixed(1)} min`;
  }
}

function report() {
  const rows = data.lines.map((one) => `${one.name}: ${(kept.minutes[one.figure] ?? 0).toFixed(1)} minutes${kept.ticks[`line-${one.figure}`] ? ", practised" : ""}`);
  return [`Practice log: ${data.title}`, new Date().toISOString().slice(0, 10), ...rows, ""].join("\n");
}

function drag(box) {
  let from = -1, moved = false;
  box.addEventListener("pointerdown", (event) => {
    if (event.button) return;
    const number = Number(box.closest("figure").dataset.figure);
    if (number !== line.figure) choose(number);
    from = barAt(event.clientX, event.clientY);
    moved = false;
  });
  box.addEventListener("pointermove", (event) => {
    if (from < 0 || !event.buttons) return;
    const to = barAt(event.clientX, event.clientY);
    if (to < 0) return;
    moved = moved || to !== from;
    if (moved) paintLoop([Math.min(from, to), Math.max(from, to)]);
  });
  box.addEventListener("pointerup", (event) => {
    if (from < 0) return;
    const to = barAt(event.clientX, event.clientY);
    if (moved && to >= 0) setLoop([Math.min(from, to), Math.max(from, to)]);
    else if (to >= 0) jump(to * line.bar);
    from = -1;
  });
  box.addEventListener("pointercancel", () => { from = -1; });
}

function keys(event) {
  if (event.target.closest("input, select, textarea, summary, a") || event.ctrlKey || event.metaKey || event.altKey) return;
  const bar = Math.floor(within(playing ? clock().beat : place) / line.bar + 1e-6);
  const bars = loop ? [loop[0] / line.bar, loop[1] / line.bar - 1] : null;
  const acts = {
    " ": () => { if (!event.target.closest("button")) toggle(); else return false; },
    ArrowLeft: () => jump((bar - 1) * line.bar), ArrowRight: () => jump((bar + 1) * line.bar),
    "+": () => setSpeed(speed + 0.05), "-": () => setSpeed(speed - 0.05),
    "[": () => setLoop([bar, Math.max(bar, bars ? bars[1] : line.length / line.bar - 1)]),
    "]": () => setLoop([bars ? Math.min(bars[0], bar) : 0, bar]), Escape: () => setLoop(null),
  };
  if (acts[event.key] && acts[event.key]() !== false) event.preventDefault();
}

// Nothing lies hidden under the bar: neither the page's end, nor a system that the cursor scrolls to.
function makeRoom() {
  document.body.style.paddingBottom = `${$("practice").offsetHeight + 24}px`;
  document.documentElement.style.scrollPaddingBottom = `${$("practice").offsetHeight}px`;
}

function wire() {
  $("p-more").open = innerWidth > 640 && innerHeight > 600;
  new ResizeObserver(makeRoom).observe($("practice"));
  $("p-care-done").addEventListener("click", () => { $("p-care").hidden = true; });
  for (const one of data.lines) $("p-line").append(new Option(one.name, one.figure));
  $("p-line").addEventListener("change", () => choose(Number($("p-line").value), true));
  $("p-play").addEventListener("click", toggle);
  $("p-speed").addEventListener("input", () => setSpeed(Number($("p-speed").value) / 100));
  $("p-step").addEventListener("change", () => { step = Math.max(0, Math.min(20, Number($("p-step").value) || 0)); });
  const typed = (other) => {
    const bars = ["p-from", "p-to"].map((name) => Math.min(line.length / line.bar, Math.max(1, Number($(name).value) || 1)) - 1);
    if (bars[0] > bars[1]) bars.fill(bars[other]);
    setLoop(bars);
  };
  $("p-from").addEventListener("change", () => typed(0));
  $("p-to").addEventListener("change", () => typed(1));
  $("p-unloop").addEventListener("click", () => setLoop(null));
  $("p-volume").addEventListener("input", () => { volume = Number($("p-volume").value) / 100; if (master) master.gain.value = volume; });
  for (const part of PARTS) {
    $(part === "line" ? "p-line-sound" : `p-${part}`).addEventListener("change", () => {
      muted[part] = !$(part === "line" ? "p-line-sound" : `p-${part}`).checked;
      if (gains[part]) gains[part].gain.value = muted[part] ? 0 : 1;
    });
  }
  document.querySelectorAll("[data-play]").forEach((one) => one.addEventListener("click", () => {
    const number = Number(one.dataset.play);
    if (number === line.figure) toggle(); else { choose(number); play(); }
  }));
  document.querySelectorAll("input[type=checkbox][data-tick]").forEach((box) => {
    const name = box.dataset.tick;
    if (name in kept.ticks) box.checked = kept.ticks[name];
    box.addEventListener("change", () => { kept.ticks[name] = box.checked; keep(); });
  });
  for (const look of ["dark", "large"]) {
    const box = $(`p-${look}`);
    const paint = () => document.documentElement.classList.toggle(look, box.checked);
    box.checked = kept.look[look] ?? (look === "dark" && matchMedia("(prefers-color-scheme: dark)").matches);
    paint();
    box.addEventListener("change", () => { kept.look[look] = box.checked; keep(); paint(); });
  }
  $("p-save").addEventListener("click", () => {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([report()], { type: "text/plain" }));
    link.download = "practice-log.txt";
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 1000);
  });
  for (const one of data.lines) $(`figure-${one.figure}`).querySelectorAll(".strip").forEach(drag);
  document.addEventListener("keydown", keys);
  addEventListener("pagehide", pause);
  log();
  choose(data.lines[0].figure);
  $("practice").hidden = false;
  makeRoom();
  document.documentElement.dataset.ready = Math.round(performance.now());
}

wire();
// What the page believes at this moment, for tests and for the curious.
window.practice = {
  state: () => ({ playing, speed, loop, line: line.figure, place, ...(playing && audio ? clock() : {}), shown,
    now: [...document.querySelectorAll(".now")].map((one) => one.id), time: audio ? audio.currentTime : 0,
    heard: audio ? audio.currentTime - (audio.outputLatency || 0) : 0, muted: { ...muted },
    gains: Object.fromEntries(Object.entries(gains).map(([part, one]) => [part, one.gain.value])) }),
  notes: () => ({ tempo: line.tempo, starts: line.notes.map((one) => one[0]), offsets: line.notes.map((one) => data.samples[one[2]][0]) }),
};
