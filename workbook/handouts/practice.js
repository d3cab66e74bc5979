// The practice page: plays the lesson's lines from a bank of sounds, with a cursor on the engraving. No library: Web
// Audio schedules each note on the audio clock, so that speed, loop and mute never touch its pitch.
(() => {
  "use strict";
  const data = JSON.parse(document.getElementById("practice-data").textContent);
  const AHEAD = 0.15, TICK = 30, PARTS = ["line", "backing", "click"];
  const $ = (name) => document.getElementById(name);
  const store = {
    key: `vampbook:${data.title}`,
    read() { try { return JSON.parse(localStorage.getItem(this.key)) ?? {}; } catch { return {}; } },
    write(value) { try { localStorage.setItem(this.key, JSON.stringify(value)); return true; } catch { return false; } },
  };
  const kept = { ticks: {}, minutes: {}, look: {}, ...store.read() };
  const keep = () => store.write(kept);

  let audio = null, bank = null, gains = {}, master = null;
  let line = data.lines[0], figure = null;
  let speed = 1, loop = null, step = 0, volume = 0.6;
  const muted = { line: false, backing: false, click: false };
  // Stretches of playing time: from `at` seconds the beats `from` to `to` pass at `rate` beats a second.
  let stretches = [], playing = false, next = 0, voices = [], timer = 0, place = 0, warned = false, started = 0;

  // -- sound --------------------------------------------------------------------------------------------------------
  async function open() {
    if (audio) return;
    audio = new AudioContext({ latencyHint: "interactive" });
    master = audio.createGain();
    master.gain.value = volume;
    const guard = audio.createDynamicsCompressor();
    guard.threshold.value = -8;
    master.connect(guard).connect(audio.destination);
    for (const part of PARTS) {
      gains[part] = audio.createGain();
      gains[part].gain.value = muted[part] ? 0 : 1;
      gains[part].connect(master);
    }
    const bytes = Uint8Array.from(atob(data.bank), (sign) => sign.charCodeAt(0));
    bank = await audio.decodeAudioData(bytes.buffer);
  }

  function sound(sample, at, seconds, gain, part, bend) {
    const [offset, length] = data.samples[sample];
    const source = audio.createBufferSource(), level = audio.createGain();
    source.buffer = bank;
    const last = Math.min(seconds, length);
    level.gain.setValueAtTime(gain, at);
    level.gain.setValueAtTime(gain, Math.max(at, at + last - 0.02));
    level.gain.linearRampToValueAtTime(0, at + last);
    if (bend) for (const [when, cents] of bend) source.playbackRate.setValueAtTime(2 ** (cents / 1200), Math.max(at, when));
    source.connect(level).connect(gains[part]);
    source.start(at, offset, length);
    source.stop(at + last + 0.01);
    voices.push({ source, at, end: at + last });
  }

  function click(at, strong) {
    const tone = audio.createOscillator(), level = audio.createGain();
    tone.frequency.value = strong ? 1600 : 1100;
    level.gain.setValueAtTime(strong ? 0.35 : 0.22, at);
    level.gain.exponentialRampToValueAtTime(0.001, at + 0.04);
    tone.connect(level).connect(gains.click);
    tone.start(at);
    tone.stop(at + 0.05);
    voices.push({ source: tone, at, end: at + 0.05 });
  }

  // The pitch of a bent note as [time, cents] every hundredth of a second.
  function bendOf(path, wave, start, at, rate, seconds) {
    if (!path.length && !wave) return null;
    const found = [];
    for (let time = 0; time <= seconds; time += 0.01) {
      const beat = start + time * rate;
      let cents = path.length ? path[path.length - 1][1] : 0;
      if (path.length && beat <= path[0][0]) cents = path[0][1];
      for (let index = 0; index + 1 < path.length; index += 1) {
        const [one, low] = path[index], [two, high] = path[index + 1];
        if (one <= beat && beat < two) cents = low + (high - low) * (beat - one) / (two - one);
      }
      if (wave && beat > wave[0]) cents += wave[1] / 2 * (1 - Math.cos(2 * Math.PI * data.vibrato_hz * (beat - wave[0]) / rate));
      found.push([at + time, cents]);
    }
    return found;
  }

  // -- time ---------------------------------------------------------------------------------------------------------
  const rateNow = () => line.tempo / 60 * speed;
  const first = () => (loop ? loop[0] : 0);
  const last = () => (loop ? loop[1] : line.length);

  function beatAt(time) {
    const here = stretches.findLast((one) => one.at <= time) ?? stretches[0];
    return here ? here.from + (time - here.at) * here.rate : place;
  }

  function extend(until) {
    for (;;) {
      const end = stretches[stretches.length - 1];
      const over = end.at + (end.to - end.from) / end.rate;
      if (over > until) return;
      if (end.count) {
        stretches.push({ at: over, from: end.next, to: last(), rate: end.rate });
      } else {
        if (step && speed < 1.5) setSpeed(Math.min(1.5, speed + step / 100), false);
        stretches.push({ at: over, from: first(), to: last(), rate: rateNow() });
      }
      if (stretches.length > 40) stretches = stretches.slice(-20);
    }
  }

  function schedule() {
    const until = audio.currentTime + AHEAD;
    extend(until);
    for (const here of stretches) {
      const low = Math.max(next, here.at), high = Math.min(until, here.at + (here.to - here.from) / here.rate);
      if (low >= high) continue;
      const beatLow = here.from + (low - here.at) * here.rate, beatHigh = here.from + (high - here.at) * here.rate;
      const inside = (beat) => beat >= beatLow - 1e-6 && beat < beatHigh - 1e-6;
      const when = (beat) => here.at + (beat - here.from) / here.rate;
      for (let beat = Math.ceil((beatLow - 1e-6) / line.pulse) * line.pulse; beat < beatHigh - 1e-6; beat += line.pulse) {
        click(when(beat), Math.abs(beat % line.bar) < 1e-6);
      }
      if (here.count) continue;
      for (const [start, end, sample, gain, path, wave] of line.notes) {
        if (!inside(start)) continue;
        const seconds = (Math.min(end, here.to) - start) / here.rate;
        sound(sample, when(start), seconds, gain, "line", bendOf(path, wave, start, when(start), here.rate, seconds));
      }
      for (const [start, end, sample, gain] of line.backing) {
        if (inside(start)) sound(sample, when(start), Math.max(0.1, (Math.min(end, here.to) - start) / here.rate), gain, "backing");
      }
    }
    next = until;
    voices = voices.filter((one) => one.end > audio.currentTime - 0.1);
  }

  function hush() {
    for (const one of voices) try { one.source.stop(); } catch { /* already over */ }
    voices = [];
  }

  async function play() {
    if (playing) return;
    playing = true;
    label();
    await open();
    await audio.resume();
    if (!playing) return;
    caution();
    begin(place < first() || place >= last() ? first() : place, $("p-count").checked);
    started = performance.now();
    timer = setInterval(schedule, TICK);
    schedule();
    requestAnimationFrame(follow);
  }

  function begin(beat, countIn) {
    const at = audio.currentTime + 0.06;
    stretches = countIn
      ? [{ at, from: -line.bar, to: 0, rate: rateNow(), count: true, next: beat }]
      : [{ at, from: beat, to: last(), rate: rateNow() }];
    next = at;
  }

  function pause() {
    if (!playing) return;
    playing = false;
    clearInterval(timer);
    place = clock().beat;
    if (place < 0 || place >= last()) place = first();
    hush();
    stretches = [];
    const minutes = (performance.now() - started) / 60000;
    kept.minutes[line.figure] = (kept.minutes[line.figure] ?? 0) + minutes;
    keep();
    log();
    label();
  }

  // What is heard now: the beat at the audio clock, and whether it is the count-in.
  function clock() {
    const time = audio.currentTime - (audio.outputLatency || 0);
    const here = stretches.findLast((one) => one.at <= time) ?? stretches[0];
    return here && here.count ? { beat: beatAt(time), count: true, time } : { beat: beatAt(time), count: false, time };
  }

  function jump(beat) {
    place = Math.max(0, Math.min(beat, line.length - line.bar));
    if (playing) { hush(); begin(place, false); schedule(); }
    show(stepAt(place));
  }

  function setSpeed(value, restart = true) {
    speed = Math.max(0.5, Math.min(1.5, Math.round(value * 100) / 100));
    $("p-speed").value = Math.round(speed * 100);
    $("p-speed-out").textContent = `${Math.round(speed * 100)} % · ♩ = ${Math.round(line.tempo * speed)}`;
    if (playing && restart) { const { beat, count } = clock(); hush(); begin(count ? first() : beat, false); schedule(); }
  }

  function setLoop(bars) {
    loop = bars && [bars[0] * line.bar, (bars[1] + 1) * line.bar];
    $("p-loop-out").textContent = bars ? `bars ${bars[0] + 1} to ${bars[1] + 1}` : "whole line";
    $("p-unloop").disabled = !bars;
    paintLoop();
    if (playing) { hush(); begin(first(), false); schedule(); } else place = first();
  }

  // -- the engraving ------------------------------------------------------------------------------------------------
  const strips = () => [...figure.querySelectorAll(".strip")];

  // The measures that can be seen, in order, each with its strip.
  function measures() {
    const found = [];
    for (const strip of strips()) {
      const edge = strip.getBoundingClientRect();
      for (const group of strip.querySelectorAll("g.measure")) {
        const box = group.querySelector("g.staff").getBoundingClientRect();
        const middle = (box.top + box.bottom) / 2;
        if (middle > edge.top && middle < edge.bottom) found.push({ group, strip });
      }
    }
    return found;
  }

  function barAt(x, y) {
    let best = -1, near = Infinity;
    measures().forEach(({ group, strip }, index) => {
      const edge = strip.getBoundingClientRect(), box = group.getBoundingClientRect();
      if (y < edge.top - 4 || y > edge.bottom + 4) return;
      const lines = group.querySelector("g.staff > path").getBoundingClientRect();
      const away = x < lines.left ? lines.left - x : x > lines.right ? x - lines.right : 0;
      const high = Math.abs(y - (box.top + box.bottom) / 2);
      if (away + high / 1000 < near) { near = away + high / 1000; best = index; }
    });
    return best;
  }

  function paintLoop(bars = loop && [loop[0] / line.bar, loop[1] / line.bar - 1]) {
    document.querySelectorAll(".loop-bar").forEach((old) => old.remove());
    if (!bars) return;
    measures().forEach(({ group }, index) => {
      if (index < bars[0] || index > bars[1]) return;
      const staffs = [...group.querySelectorAll(":scope > g.staff")].map((staff) => staff.getBBox());
      const wide = group.querySelector("g.staff > path").getBBox();
      const all = [...group.querySelectorAll(":scope > g.staff:last-of-type > path, :scope > g.staff > path")].map((path) => path.getBBox());
      const left = Math.min(wide.x, ...all.map((box) => box.x)), right = Math.max(...all.map((box) => box.x + box.width));
      const top = Math.min(...staffs.map((box) => box.y)), bottom = Math.max(...staffs.map((box) => box.y + box.height));
      const rect = document.createElementNS("http://www.w3.org/2000/svg", "rect");
      for (const [name, value] of Object.entries({ x: left, y: top - 60, width: right - left, height: bottom - top + 120, class: "loop-bar" })) rect.setAttribute(name, value);
      group.prepend(rect);
    });
  }

  function stepAt(beat) {
    let found = 0;
    line.steps.forEach(([at], index) => { if (at <= beat + 1e-6) found = index; });
    return found;
  }

  let shown = -1;
  function show(index) {
    if (index === shown) return;
    shown = index;
    document.querySelectorAll(".now").forEach((one) => one.classList.remove("now"));
    document.querySelectorAll(".cursor").forEach((one) => one.remove());
    if (index < 0) return;
    const [, notes] = line.steps[index];
    for (const note of notes) {
      for (const strip of strips()) {
        for (const kind of ["t", "n"]) {
          const group = strip.querySelector(`g[id$="-${kind}${note}"]`);
          if (group) group.classList.add("now");
        }
      }
    }
    cursor(notes[0]);
    lightNeck(notes);
  }

  // A bar of light behind the note, from the staff's top to the TAB's last line.
  function cursor(note) {
    for (const strip of strips()) {
      const group = strip.querySelector(`g[id$="-t${note}"]`) ?? strip.querySelector(`g[id$="-n${note}"]`);
      const measure = group?.closest("g.measure");
      if (!group || !measure) continue;
      const edge = strip.getBoundingClientRect(), here = group.getBoundingClientRect();
      if (here.top < edge.top - 2 || here.bottom > edge.bottom + 2) continue;
      const box = group.getBBox(), staffs = [...measure.querySelectorAll(":scope > g.staff")].map((staff) => staff.getBBox());
      const top = Math.min(...staffs.map((one) => one.y)), bottom = Math.max(...staffs.map((one) => one.y + one.height));
      const rect = document.createElementNS("http://www.w3.org/2000/svg", "rect");
      for (const [name, value] of Object.entries({ x: box.x - 60, y: top - 60, width: box.width + 120, height: bottom - top + 120, class: "cursor" })) rect.setAttribute(name, value);
      measure.prepend(rect);
      if (playing && (edge.top < 0 || edge.bottom > innerHeight - $("practice").offsetHeight)) strip.scrollIntoView({ block: "center" });
      const scroller = strip.parentElement;
      if (playing && scroller.scrollWidth > scroller.clientWidth) scroller.scrollLeft += here.left - scroller.getBoundingClientRect().left - scroller.clientWidth / 2;
    }
  }

  function follow() {
    if (!playing) return;
    const { beat, count } = clock();
    $("p-where").textContent = count ? "count-in" : `bar ${Math.floor(beat / line.bar + 1e-6) + 1}`;
    if (!count) show(stepAt(beat));
    requestAnimationFrame(follow);
  }

  // -- the neck -----------------------------------------------------------------------------------------------------
  function drawNeck() {
    const neck = line.neck, box = $("p-neck");
    box.replaceChildren();
    if (!neck) return;
    const wide = 46, gap = 17, left = neck.open ? 52 : 26, count = neck.high - neck.low + 1;
    const width = left + count * wide + 8, height = 12 + gap * (neck.names.length - 1) + 24;
    const x = (fret) => (fret === 0 ? left - 14 : left + (fret - neck.low + 0.5) * wide), y = (string) => 10 + (string - 1) * gap;
    const parts = [];
    for (let fret = 0; fret <= count; fret += 1) parts.push(`<line x1="${left + fret * wide}" x2="${left + fret * wide}" y1="10" y2="${y(neck.names.length)}" class="wire"/>`);
    neck.names.forEach((name, index) => parts.push(`<line x1="${left}" x2="${left + count * wide}" y1="${y(index + 1)}" y2="${y(index + 1)}" class="wire"/><text x="6" y="${y(index + 1) + 4}">${name}</text>`));
    for (let fret = neck.low; fret <= neck.high; fret += 1) parts.push(`<text x="${x(fret)}" y="${height - 2}" text-anchor="middle">${fret}</text>`);
    const seen = new Set();
    line.places.forEach((one) => {
      if (!one || seen.has(one.slice(0, 2).join())) return;
      seen.add(one.slice(0, 2).join());
      parts.push(`<g class="dot" data-place="${one[0]}:${one[1]}"><circle cx="${x(one[1])}" cy="${y(one[0])}" r="8"/><text x="${x(one[1])}" y="${y(one[0]) + 4}" text-anchor="middle"></text></g>`);
    });
    box.innerHTML = `<svg viewBox="0 0 ${width} ${height}" role="img" aria-label="The places of this line on the neck, frets ${neck.low} to ${neck.high}">${parts.join("")}</svg>`;
  }

  function lightNeck(notes) {
    document.querySelectorAll("#p-neck .lit").forEach((one) => one.classList.remove("lit"));
    for (const note of notes) {
      const one = line.places[note];
      const dot = one && document.querySelector(`#p-neck [data-place="${one[0]}:${one[1]}"]`);
      if (!dot) continue;
      dot.classList.add("lit");
      dot.querySelector("text").textContent = one[2];
    }
  }

  // -- the page -----------------------------------------------------------------------------------------------------
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
    $("p-play").setAttribute("aria-pressed", playing);
    if (!playing) $("p-where").textContent = `bar ${Math.floor(place / line.bar) + 1}`;
    document.querySelectorAll("[data-play]").forEach((one) => {
      const mine = Number(one.dataset.play) === line.figure && playing;
      one.textContent = mine ? "Pause" : "Play this";
      one.setAttribute("aria-pressed", mine);
    });
  }

  function caution() {
    if (warned) return;
    warned = true;
    $("p-care").hidden = false;
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
    const bar = Math.floor((playing ? clock().beat : place) / line.bar + 1e-6);
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

  function wire() {
    for (const one of data.lines) $("p-line").append(new Option(one.name, one.figure));
    $("p-line").addEventListener("change", () => choose(Number($("p-line").value), true));
    $("p-play").addEventListener("click", toggle);
    $("p-speed").addEventListener("input", () => setSpeed(Number($("p-speed").value) / 100));
    $("p-step").addEventListener("change", () => { step = Math.max(0, Math.min(20, Number($("p-step").value) || 0)); });
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
    document.documentElement.dataset.ready = Math.round(performance.now());
  }

  wire();
  // For tests and for the curious: what the page believes at this moment.
  window.practice = {
    state: () => ({ playing, speed, loop, line: line.figure, place, ...(playing && audio ? clock() : {}), shown,
      now: [...document.querySelectorAll(".now")].map((one) => one.id), time: audio ? audio.currentTime : 0 }),
    steps: () => line.steps, muted: () => ({ ...muted }), gains: () => Object.fromEntries(Object.entries(gains).map(([name, one]) => [name, one.gain.value])),
  };
})();
