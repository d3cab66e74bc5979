// Keys of the page, wherever the focus is, but for those that the control in focus needs itself.
const TYPED = "input[type=text], input[type=number], textarea";
const OWN = [ // what a control that was reached by keyboard keeps for itself
  ["input[type=range], select, [role=tab], [role=slider]", /^(Arrow\w+|Home|End|PageUp|PageDown)$/],
  ["select", /^.$/],
  ["button, summary, a, input[type=checkbox], input[type=file], [role=tab]", /^( |Enter)$/],
];

// `rows` are [how the key is called, what it does in words, {key: act} …]; `isOn()` turns all but Escape off.
export function listenToKeys({ rows, isOn }) {
  const acts = Object.assign({}, ...rows.map(([, , own]) => own));
  let isPointed = false; // the focus was given by a mouse or finger, in passing
  document.addEventListener("pointerdown", () => { isPointed = true; }, true);
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return;
    const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    const act = acts[key];
    if (key === "Tab") isPointed = false;
    if (!act || (!isOn() && key !== "Escape") || keepsForItself(event.target, key, isPointed)) return;
    event.preventDefault();
    act();
  });
}

function keepsForItself(target, key, isPointed) {
  if (!(target instanceof Element) || key === "Escape") return false;
  if (target.closest(TYPED)) return true;
  return !isPointed && OWN.some(([which, keys]) => target.closest(which) && keys.test(key));
}
