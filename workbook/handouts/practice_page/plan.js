// The plan: a step sets the tempo; two clean passes in a row tick it and go on, two failed tries go back one.
// Only whole passes at the step's tempo or faster count, and only the student can say that one was clean.
import { $, make, press } from "./dom.js";

const NEEDED = 2;

export function createPlan({ player, bus, drill, line, change, clean }) {
  let passes = 0, fastest = 0; // whole passes that nobody has judged yet, and the tempo of the last

  function draw() {
    passes = 0;
    $("p-steps").replaceChildren(...line().plan.map(([tempo], index) => make("li", {}, make("button", {
      type: "button", onclick: () => go(index) }, `♩ ${tempo}`, make("small")))));
    paint();
  }

  function go(index) {
    const kept = drill();
    kept.step = Math.max(0, Math.min(line().plan.length - 1, index));
    kept.fails = 0;
    passes = 0;
    if (player.state().loop) bus.tell("whole");
    player.setTempo(line().plan[kept.step][0]);
    change();
    paint();
  }

  function judged(isClean) {
    const kept = drill(), [wanted] = line().plan[kept.step];
    if (!passes || (isClean && fastest < wanted)) {
      $("p-plan-say").textContent = passes ? `Noted. This step counts at ♩ = ${wanted} or faster.` : "Play the whole line first.";
      return;
    }
    passes = 0;
    if (isClean) {
      clean(fastest);
      kept.fails = 0;
      kept.ticks[kept.step] = Math.min(NEEDED, kept.ticks[kept.step] + 1);
    } else {
      if (kept.ticks[kept.step] < NEEDED) kept.ticks[kept.step] = 0;
      kept.fails += 1;
    }
    const isDone = isClean && kept.ticks[kept.step] >= NEEDED, isTooHard = kept.fails >= NEEDED;
    if (isDone && kept.step + 1 < line().plan.length) go(kept.step + 1);
    else if (isTooHard) go(kept.step - 1);
    if (!isClean && kept.rise) player.setTempo(player.state().tempo - kept.rise);
    change();
    paint();
    ask();
  }

  function paint() {
    const kept = drill(), steps = line().plan;
    [...$("p-steps").children].forEach((row, index) => {
      const count = kept.ticks[index], isDone = count >= NEEDED, button = row.firstElementChild;
      row.classList.toggle("done", isDone);
      button.setAttribute("aria-pressed", index === kept.step);
      const marks = "●".repeat(count) + "○".repeat(NEEDED - count);
      button.lastElementChild.textContent = isDone ? "✓ done" : `${marks} clean`;
      button.setAttribute("aria-label", `Step ${index + 1}: ${steps[index][0]} a minute, ${isDone ? "done" : `${count} of ${NEEDED} clean`}`);
    });
    $("p-plan-say").textContent = said(kept, steps);
  }

  function said(kept, steps) {
    if (kept.ticks.every((count) => count >= NEEDED)) return `All ${steps.length} steps done.`;
    const [wanted, rate] = steps[kept.step], { tempo } = player.state();
    if (tempo !== wanted) return `Step ${kept.step + 1} is ♩ = ${wanted}; you are at ${tempo}.`;
    return `Step ${kept.step + 1} of ${steps.length}, ${rate} notes a second`;
  }

  // Where the buttons cannot be seen at a pause, a strip over the row asks.
  function ask() {
    const box = $("p-clean").getBoundingClientRect();
    const isSeen = box.top > 0 && box.bottom < $("practice").getBoundingClientRect().top;
    $("p-ask").hidden = player.state().playing || !passes || isSeen;
    $("p-asked").textContent = `${passes} pass${passes === 1 ? "" : "es"} at ♩ ${fastest}`;
  }

  bus.on("pass", ({ tempo, whole }) => {
    if (!whole) return;
    passes += 1;
    fastest = tempo;
  });
  bus.on("state", ask);
  bus.on("tempo", () => { if (line()) paint(); });
  bus.on("line", draw);
  press("p-clean", () => judged(true));
  press("p-missed", () => judged(false));
  for (const one of document.querySelectorAll("[data-judge]")) {
    one.addEventListener("click", () => { $(one.dataset.judge).click(); $("p-play").focus(); });
  }
  return { judged, paint };
}
