// Tasks for the ear among the lesson's words: hear, answer, or have it told. They sound through the page's own bank.
import { createClock } from "../../browser/clock.js";

const SOON = 0.06; // seconds from a press to the first sound
const CHORD = 0.45, NOTE = 0.9; // how loud each of several notes struck together sounds, and one alone

// `tasks` are {sounds, after: [start, end, sample] …, answer, right}; `tempo` their beats a minute.
export function createEar({ tasks, tempo, player, sound }) {
  const clock = createClock(), rate = tempo / 60;
  const heard = tasks.map(() => 0), known = tasks.map(() => null); // times heard; right at the first answer, or not
  const boxes = [...document.querySelectorAll("[data-ear]")];

  // A drill that plays gives way, so that the ear has silence around what it is asked.
  async function sounds(rows) {
    player.pause();
    await sound.open();
    sound.hush();
    const end = Math.max(...rows.map((row) => row[1])), at = sound.time() + SOON;
    clock.start({ at, from: 0, to: end, rate });
    for (const { when } of clock.between(at, at + end / rate)) {
      for (const [start, stop, sample] of rows) {
        const together = rows.filter((row) => row[0] === start).length;
        sound.play({ sample, at: when(start), seconds: (stop - start) / rate, gain: together > 1 ? CHORD : NOTE, part: "line" });
      }
    }
  }

  function hear(task, number) {
    heard[number] += 1;
    return sounds(task.sounds);
  }

  function answer(box, task, number, button) {
    const isRight = Number(button.dataset.choice) === task.right;
    if (heard[number] === 0) { told(box, "Hear it first."); return; }
    known[number] ??= isRight;
    button.setAttribute("aria-pressed", "true");
    if (!isRight) { told(box, "Not that one: hear it again."); return; }
    told(box, `Right: ${task.answer}.`);
    close(box);
  }

  function reveal(box, task, number) {
    known[number] ??= false;
    told(box, task.answer);
    if (task.right >= 0) close(box, task.right);
    return sounds(task.after.length ? task.after : task.sounds);
  }

  // What is known is closed; what was heard may be heard again.
  function close(box, right = -1) {
    for (const one of box.querySelectorAll("[data-choice]")) {
      if (Number(one.dataset.choice) === right) one.setAttribute("aria-pressed", "true");
      one.disabled = true;
    }
  }

  function told(box, words) {
    box.querySelector(".told").textContent = words;
    count();
  }

  function count() {
    const asked = tasks.filter((task) => task.right >= 0).length;
    const right = known.filter((one, number) => one && tasks[number].right >= 0).length;
    for (const place of document.querySelectorAll(".ear-count")) place.textContent = `${right} of ${asked} at the first answer`;
  }

  for (const box of boxes) {
    const number = Number(box.dataset.ear), task = tasks[number];
    box.querySelector("[data-hear]").addEventListener("click", () => hear(task, number));
    box.querySelector("[data-reveal]").addEventListener("click", () => reveal(box, task, number));
    for (const one of box.querySelectorAll("[data-choice]")) one.addEventListener("click", () => answer(box, task, number, one));
  }

  return { state: () => ({ heard: [...heard], known: [...known] }) };
}
