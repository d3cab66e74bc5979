// The sheet over the row: tabs of further controls; the score stays in sight beside it.
import { $, press } from "./dom.js";

const TABS = { "t-parts": "p-parts", "t-tempo": "p-tempo", "t-loop": "p-loops", "t-look": "p-look", "t-keys": "p-keys" };

export function createSheet({ resized }) {
  const names = Object.keys(TABS);
  let shown = names[0], back = null;

  function choose(name) {
    shown = name;
    for (const [tab, panel] of Object.entries(TABS)) {
      $(tab).setAttribute("aria-selected", tab === name);
      $(tab).tabIndex = tab === name ? 0 : -1;
      $(panel).hidden = tab !== name;
    }
    resized();
  }

  function open(name = shown) {
    back = document.activeElement;
    $("p-sheet").hidden = false;
    $("p-more").setAttribute("aria-expanded", true);
    choose(name);
    $(name).focus();
  }

  function close() {
    $("p-sheet").hidden = true;
    $("p-more").setAttribute("aria-expanded", false);
    resized();
    (back ?? $("p-more")).focus();
  }

  const isOpen = () => !$("p-sheet").hidden;
  press("p-more", () => (isOpen() ? close() : open()));
  press("p-close", close);
  press("p-bpm", () => open("t-tempo"));
  for (const name of names) press(name, () => choose(name));
  document.querySelector("#p-sheet .tabset").addEventListener("keydown", (event) => {
    const by = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!by) return;
    event.preventDefault();
    event.stopPropagation();
    const next = names[(names.indexOf(shown) + by + names.length) % names.length];
    choose(next);
    $(next).focus();
  });
  choose(shown);
  return { close, isOpen };
}
