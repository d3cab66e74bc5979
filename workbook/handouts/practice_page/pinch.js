// Two fingers over the music: apart for large print, together for normal. Where no step is left that way, or the page
// is zoomed already, they are the browser's own.
const ENOUGH = 1.2; // how much further apart fingers are, or nearer, for a step

// `box`: over what; `can(larger)`: whether there is a step left; `step(larger)` takes it.
export function createPinch({ box, can, step }) {
  let from = 0, isDone = false; // px between the fingers where the gesture began, 0: not ours; whether it took its step

  box.addEventListener("touchstart", (event) => {
    from = event.touches.length === 2 && !isZoomed() ? apart(event.touches) : 0;
    isDone = false;
  }, { passive: true });
  box.addEventListener("touchmove", (event) => {
    if (!from || event.touches.length !== 2) return;
    const ratio = apart(event.touches) / from, larger = ratio > 1;
    if (!isDone && ratio !== 1 && !can(larger)) { from = 0; return; }
    if (event.cancelable) event.preventDefault();
    if (isDone || (ratio < ENOUGH && ratio > 1 / ENOUGH)) return;
    isDone = true; // one step a gesture, the rest of which moves nothing
    step(larger);
  }, { passive: false });
}

const isZoomed = () => (window.visualViewport?.scale ?? 1) > 1.01;
const apart = ([one, two]) => Math.hypot(one.clientX - two.clientX, one.clientY - two.clientY);
