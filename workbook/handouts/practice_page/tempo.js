// The tempo: by steps, held or typed; its ladder, the count-in and how the click divides the beat.
import { $, bind, press } from "./dom.js";

const BY = 2; // quarter notes a minute of one press
const DOTTED = 1.5; // quarter notes: what a foot taps in 6/8 and 12/8
const HELD = 450, AGAIN = 120; // milliseconds until a held button repeats, and between two times

export function createTempo({ store, player, bus, line, drill }) {
  const { kept, keep } = store;
  const change = (times) => player.setTempo(player.state().tempo + times * BY);

  function paint() {
    const { tempo } = player.state();
    const felt = line()?.pulse === DOTTED ? `♩. = ${Math.round(tempo / DOTTED)}` : "";
    $("p-bpm-out").textContent = tempo;
    $("p-bpm").title = felt;
    $("p-felt").textContent = felt;
    $("p-bpm").setAttribute("aria-label", `Tempo ${tempo} quarter notes a minute, more of it`);
    if (document.activeElement !== $("p-typed")) $("p-typed").value = tempo;
  }

  function held(name, times) { // once, or again and again while it is held
    let wait = 0, again = 0;
    press(name, () => change(times));
    $(name).addEventListener("pointerdown", () => {
      wait = setTimeout(() => { again = setInterval(change, AGAIN, times); }, HELD);
    });
    for (const end of ["pointerup", "pointerleave", "pointercancel"]) {
      $(name).addEventListener(end, () => { clearTimeout(wait); clearInterval(again); });
    }
  }

  // A field of the sheet whose number is kept in `of()` and told to the player.
  const field = (name, of) => bind(`p-${name}`, {
    read: () => of()?.[name] ?? 0, after: keep,
    write: (value) => { of()[name] = Math.max(0, Number(value) || 0); player.set({ [name]: of()[name] }); },
  });
  const ladder = ["rise", "after", "goal"].map((name) => field(name, () => (line() ? drill() : null)));
  for (const name of ["count", "clicks"]) field(name, () => kept);

  held("p-slower", -1);
  held("p-faster", 1);
  press("p-home", () => player.setTempo(line().tempo));
  $("p-typed").addEventListener("change", () => { player.setTempo(Number($("p-typed").value) || line().tempo); paint(); });
  bus.on("tempo", paint);
  bus.on("line", paint);
  bus.on("line", () => { for (const show of ladder) show(); });
  return { change };
}
