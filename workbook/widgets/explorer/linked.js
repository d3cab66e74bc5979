// One note, everywhere: what is under the pointer or has the focus lights wherever its pitch is shown, and is named.
export function createLinked(app) {
  const { root } = app;
  let lit = "";

  function light(key, words) {
    if (key === lit) return;
    lit = key;
    for (const one of root.querySelectorAll(".lit")) one.classList.remove("lit");
    const [kind, pitch] = key.split(":");
    if (pitch !== undefined) for (const one of root.querySelectorAll(pitchAs(kind, Number(pitch)))) one.classList.add("lit");
    const line = root.querySelector(".linked");
    if (line) line.textContent = words;
  }

  // A note of the next chord lights where that is shown, and where the chord at hand has the same pitch.
  // In the changes every chord that holds it lights.
  const pitchAs = (kind, pitch) => `[data-pitch="${pitch}"], [data-holds*=",${pitch},"]${kind === "next" ? `, [data-next="${pitch}"]` : ""}`;

  function told(target) {
    const next = target.closest?.("[data-next]"), here = target.closest?.("[data-pitch]"), { view } = app;
    if (!view) return ["", ""];
    if (next) {
      const note = view.nextNotes[next.dataset.next];
      return [`next:${next.dataset.next}`, `${note.name}: ${note.degree} of ${view.next}, the next chord`];
    }
    if (!here) return ["", ""];
    const pitch = Number(here.dataset.pitch), note = view.notes[pitch], to = view.nextNotes[(pitch + note.way + 12) % 12];
    const goes = note.way ? `; goes ${note.way < 0 ? "down" : "up"} a half step to ${to.name}, ${to.degree} of ${view.next}` : "";
    return [`here:${pitch}`, `${note.name}: ${note.function} over ${view.chord}${goes}`];
  }

  for (const kind of ["pointerover", "focusin"]) root.addEventListener(kind, (event) => light(...told(event.target)));
  root.addEventListener("pointerleave", () => light("", ""));
}
