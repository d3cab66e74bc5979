// The lesson's own words: the button of each drill among them, and the boxes to tick.
export function wireWords({ data, store, player, bus, line, choose }) {
  const { kept, keep } = store;
  const buttons = [...document.querySelectorAll("[data-play]")];
  const drillOf = (button) => data.lines.find((one) => one.figure === Number(button.dataset.play));

  function press(button) {
    const wanted = drillOf(button), isChosen = wanted === line();
    if (!isChosen) choose(wanted.key);
    if (isChosen) player.toggle();
    else player.play();
  }

  function paint() {
    for (const button of buttons) {
      const plays = player.state().playing && drillOf(button) === line();
      button.textContent = plays ? "Pause" : "Play this";
      button.setAttribute("aria-label", `${plays ? "Pause" : "Play this:"} ${button.dataset.name}`);
    }
  }

  function tick(box) {
    const name = box.dataset.tick;
    const show = () => { if (name in kept.ticks) box.checked = kept.ticks[name]; };
    box.addEventListener("change", () => { kept.ticks[name] = box.checked; keep(); });
    bus.on("read", show);
    show();
  }

  for (const button of buttons) button.addEventListener("click", () => press(button));
  for (const box of document.querySelectorAll("input[type=checkbox][data-tick]")) tick(box);
  bus.on("state line", paint);
}
