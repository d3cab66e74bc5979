// The look: light or dark, print size, the neck's hand and words, the screen kept awake.
import { bind, press } from "./dom.js";

export function createLook({ kept, change, player, bus }) {
  const { look } = kept, isDark = matchMedia("(prefers-color-scheme: dark)");
  let lock = null;

  function paint() {
    const theme = look.theme === "auto" ? (isDark.matches ? "dark" : "light") : look.theme;
    document.documentElement.dataset.theme = theme;
    document.documentElement.classList.toggle("large", look.large);
  }

  function changed() {
    paint();
    change();
    bus.tell("look");
    stayAwake();
  }

  async function stayAwake() { // a wish: a browser may not have it, or refuse
    const wanted = look.awake && player.state().playing;
    try {
      if (wanted && !lock) lock = await navigator.wakeLock?.request("screen");
      if (!wanted && lock) { await lock.release(); lock = null; }
    } catch { lock = null; }
  }

  const fields = { "p-theme": "theme", "p-large": "large", "p-left": "left", "p-names": "names", "p-awake": "awake", "p-keys-on": "keys" };
  const shown = {};
  for (const [field, name] of Object.entries(fields)) {
    shown[name] = bind(field, { read: () => look[name], write: (value) => { look[name] = value; }, after: changed });
  }
  press("p-print", () => print());
  isDark.addEventListener("change", paint);
  bus.on("state", stayAwake);
  // What is folded is printed too, and folded again afterwards.
  addEventListener("beforeprint", () => document.querySelectorAll(".read details:not([open])").forEach((one) => {
    one.dataset.folded = "";
    one.open = true;
  }));
  addEventListener("afterprint", () => document.querySelectorAll("[data-folded]").forEach((one) => {
    delete one.dataset.folded;
    one.open = false;
  }));
  paint();

  function setLarge(large) {
    look.large = large;
    shown.large();
    changed();
  }

  return { setLarge };
}
