// Where in the recording the line begins: its changes come round several times, and each time may be played over.
import { $, make } from "./dom.js";

export function createAlong({ track, player, bus, line }) {
  const list = make("select", { id: "p-turn", onchange: () => choose(Number(list.value)) });
  const box = make("label", { id: "p-along" }, "In the recording ", list);

  function choose(number) {
    track.setTurn(number);
    player.jump(player.state().loop ? player.state().loop[0] * line().bar : 0);
  }

  function draw() {
    const turns = track.turns(line());
    list.replaceChildren(...turns.map((bar, number) => make("option", { value: String(number) }, `from bar ${bar + 1}`)));
    box.hidden = turns.length < 2 || !track.isUnder(line());
    show();
  }

  function show() { list.value = String(track.turn(line())); }

  $("p-setting").after(box);
  bus.on("line", () => { track.setTurn(0); draw(); });
  track.whenTurned(show);
}
