// What is set: one plain value that is kept, undone, and told in a link text. Whoever changes it gives what changes.
export const DEFAULTS = {
  changes: "", key: "", tuning: "standard", chord: 0, bars: null, row: "", pins: [],
  reach: "all", group: "seventh", sort: "best", only: [], student: "",
  position: 5, layers: ["scale", "next"], names: false, left: false, mode: "arpeggio", degrees: "", shape: null, grip: 0,
  picks: [], drill: "into the next", tempo: 0, feel: "", loop: false, click: false, volume: 0.5, hear: true,
  folded: ["rivals", "homes", "uses", "take"], what: "",
};
const LINK = "vampbook-explorer?"; // how a link text begins
const MOST = 200; // steps back
const SOUND = ["volume", "tempo", "loop", "click", "hear"]; // turned, not undone

export function createState(initial, tell) {
  let now = { ...DEFAULTS, ...initial };
  const past = [], ahead = [];

  function set(patch, { step = true } = {}) {
    const changed = Object.keys(patch).filter((name) => JSON.stringify(patch[name]) !== JSON.stringify(now[name]));
    if (!changed.length) return;
    if (step && changed.some((name) => !SOUND.includes(name))) {
      past.push(now);
      if (past.length > MOST) past.shift();
      ahead.length = 0;
    }
    now = { ...now, ...patch };
    tell(changed);
  }

  function go(from, to) {
    if (!from.length) return;
    to.push(now);
    const before = now;
    now = from.pop();
    tell(Object.keys(now).filter((name) => JSON.stringify(before[name]) !== JSON.stringify(now[name])));
  }

  return {
    get: () => now, set,
    undo: () => go(past, ahead), redo: () => go(ahead, past),
    canUndo: () => past.length > 0, canRedo: () => ahead.length > 0,
  };
}

// What differs from the beginning, as a text that can be sent and pasted.
export function linkOf(state) {
  const said = Object.entries(state).filter(([name, value]) => name in DEFAULTS
    && JSON.stringify(value) !== JSON.stringify(DEFAULTS[name]));
  return LINK + new URLSearchParams(said.map(([name, value]) => [name, typeof value === "string" ? value : JSON.stringify(value)]));
}

// The state that a link text tells; nothing for any other text. What is not of the kind it should be is left out.
export function readLink(text) {
  const start = text.indexOf(LINK);
  if (start < 0) return null;
  const found = {};
  for (const [name, value] of new URLSearchParams(text.slice(start + LINK.length).trim())) {
    if (!(name in DEFAULTS)) continue;
    const usual = DEFAULTS[name];
    const read = typeof usual === "string" ? value : parsed(value);
    if (read !== undefined && fits(read, usual)) found[name] = read;
  }
  return found.changes ? { ...DEFAULTS, ...found } : null;
}

function parsed(text) {
  try { return JSON.parse(text); } catch { return undefined; }
}

const fits = (value, usual) => (usual === null || value === null || Array.isArray(usual)
  ? value === null || Array.isArray(value) || typeof value === "number" : typeof value === typeof usual);
