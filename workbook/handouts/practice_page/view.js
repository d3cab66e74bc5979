// What is heard is seen: the light on the score, the places on the neck, the bar in the changes, the place in words.
import { $ } from "./dom.js";

// The lowest px that can be seen: over the row and, while it plays, over the neck that stays above it.
export function floor() {
  const neck = $("p-neck"), row = $("practice").getBoundingClientRect().top;
  const isSticky = document.body.classList.contains("playing") && getComputedStyle(neck).position === "sticky";
  return isSticky ? Math.min(row, neck.getBoundingClientRect().top) : row;
}

// `score()` shows the line; `places(beat, isCounted)` says it in words; `restIsDue()` is true once every ten minutes.
export function createView({ player, neck, changes, score, places, restIsDue }) {
  let step = -1; // of the line, as lit on the neck
  const line = () => player.state().line;

  function show(beat, following) {
    score().moveTo(beat, following);
    const index = Math.max(0, score().stepAt(beat));
    if (index !== step) {
      step = index;
      neck.light(line().steps[index][1], nextNotes(index));
    }
    changes.light(player.barOf(beat));
  }

  // What comes after a step, where the loop ends its first notes.
  function nextNotes(index) {
    const [from, to] = player.state().loop ?? [0, player.barCount() - 1], end = (to + 1) * line().bar;
    const following = line().steps[index + 1];
    if (following && following[0] < end) return following[1];
    return line().steps[Math.max(0, score().stepAt(from * line().bar))][1];
  }

  function follow() {
    if (!player.state().playing) return;
    const { beat, count, here } = player.look();
    places(count ? beat - here.to : beat, count);
    show(count ? here.to : beat, true);
    if (restIsDue()) $("p-say").textContent = "Ten minutes: rest your hands and ears.";
    requestAnimationFrame(follow);
  }

  function rest() { // where it begins at the next press
    const { playing, place } = player.state();
    if (playing) return;
    places(place, false);
    show(place, false);
  }

  function begin() {
    score().again();
    requestAnimationFrame(follow);
  }

  return { begin, rest, again: () => { step = -1; }, step: () => step };
}
