// The log by day: minutes played and the best tempo that was clean, as bars and as a table, to a file and back.
import { element } from "../../browser/svg.js";
import { $, make, press } from "./dom.js";
import { dayOf, MOST_TAKES, today } from "./store.js";

const DAYS = 14, ROWS = 30, WIDE = 300, HIGH = 48, BASE = 56;
const REST = 600; // seconds of playing after which a rest is due
const LEAST = 20; // minutes at the top of the chart at least

export function createLog({ store, player, bus, line, lines }) {
  const { kept, keep } = store;
  let since = 0, played = 0, rested = 0;

  const entry = () => ((kept.days[today()] ??= {})[line().key] ??= { minutes: 0, best: 0 });

  function count() { // what was played since the last look at the clock
    if (!since) return;
    const seconds = (performance.now() - since) / 1000;
    entry().minutes += seconds / 60;
    played += seconds;
    since = 0;
    keep();
    paint();
  }

  // True once for every ten minutes of playing.
  function restIsDue() {
    const now = played + (since ? (performance.now() - since) / 1000 : 0);
    if (now < REST * (rested + 1)) return false;
    rested += 1;
    return true;
  }

  function clean(tempo) {
    entry().best = Math.max(entry().best, tempo);
    keep();
    paint();
  }

  // A take of a line that was heard: {tempo, right, count, spread in ms}.
  function took(one, { tempo, right, count: notes, spread }) {
    const day = (kept.days[today()] ??= {}), mine = (day[one.key] ??= { minutes: 0, best: 0 });
    mine.takes = [...mine.takes ?? [], [tempo, right, notes, spread]].slice(-MOST_TAKES);
    keep();
    paint();
  }

  function dayRow(day) { // of all drills of this page
    const found = Object.entries(kept.days[day] ?? {}).filter(([key]) => lines.some((one) => one.key === key));
    return {
      day, minutes: found.reduce((sum, [, one]) => sum + one.minutes, 0),
      best: Math.max(0, ...found.map(([, one]) => one.best)), takes: found.flatMap(([, one]) => one.takes ?? []),
    };
  }

  function lastDays(count_) {
    return Array.from({ length: count_ }, (_, back) => {
      const date = new Date();
      date.setDate(date.getDate() - (count_ - 1 - back));
      return dayRow(dayOf(date));
    });
  }

  function paint() {
    const days = lastDays(DAYS);
    $("p-chart").replaceChildren(chart(days));
    const week = days.slice(-7).reduce((sum, one) => sum + one.minutes, 0), best = Math.max(...days.map((one) => one.best));
    $("p-log-say").textContent = `Today ${days.at(-1).minutes.toFixed(0)} min · seven days ${week.toFixed(0)} min`
      + (best ? ` · best clean ♩ = ${best}` : "");
    const rows = Object.keys(kept.days).toSorted().toReversed().map(dayRow).filter((one) => one.minutes || one.best || one.takes.length).slice(0, ROWS);
    $("p-days").replaceChildren(...rows.map((one) => make("tr", {},
      make("td", {}, one.day), make("td", {}, one.minutes.toFixed(1)), make("td", {}, one.best ? String(one.best) : "–"),
      make("td", {}, one.takes.map(([tempo, right, notes, spread]) => `♩ ${tempo}: ${right} of ${notes}, ±${spread} ms`).join("; ") || "–"))));
    for (const one of lines) {
      const minutes = Object.values(kept.days).reduce((sum, day) => sum + (day[one.key]?.minutes ?? 0), 0);
      for (const place of document.querySelectorAll(`[data-minutes="${one.figure}"]`)) place.textContent = `${minutes.toFixed(1)} min`;
    }
  }

  function save() {
    const link = make("a", { href: URL.createObjectURL(new Blob([store.text()], { type: "application/json" })), download: "practice-log.json" });
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 1000);
  }

  async function read() {
    const [file] = $("p-read").files;
    if (!file) return;
    const isOurs = store.read(await file.text());
    $("p-read").value = "";
    $("p-read-say").textContent = isOurs ? "The file's days and ticks were added." : "This file is not from this page's log.";
    if (isOurs) bus.tell("read");
    paint();
  }

  press("p-save", save);
  $("p-read").addEventListener("change", read);
  bus.on("started", () => { since = performance.now(); });
  bus.on("state", () => { if (!player.state().playing) count(); });
  return { paint, clean, count, took, restIsDue };
}

function chart(days) {
  const most = Math.max(LEAST, ...days.map((one) => one.minutes)), wide = WIDE / days.length;
  const ten = BASE - 10 / most * HIGH;
  const bars = days.flatMap(({ day, minutes }, index) => {
    const high = minutes / most * HIGH, isToday = index === days.length - 1, x = index * wide;
    const bar = ["rect", { class: isToday ? "today" : "", x: x + 3, width: wide - 6, y: BASE - high, height: high }];
    const isNamed = isToday || index % 4 === 1;
    if (!isNamed) return [bar];
    const name = ["text", { x: isToday ? WIDE : x + wide / 2, y: 68, "text-anchor": isToday ? "end" : "middle" }, isToday ? "today" : day.slice(5)];
    return [bar, name];
  });
  return element(["svg", { viewBox: `0 0 ${WIDE} 72`, role: "img", "aria-label": `Minutes a day over two weeks; today ${days.at(-1).minutes.toFixed(0)}` },
    ["line", { x1: 0, x2: WIDE, y1: BASE, y2: BASE }], ["line", { x1: 0, x2: WIDE, y1: ten, y2: ten }],
    ["text", { x: WIDE, y: ten - 3, "text-anchor": "end" }, "10 min"], ...bars]);
}
