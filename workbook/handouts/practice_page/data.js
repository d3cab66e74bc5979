// What the whole page knows: the lesson's data, what this browser keeps, and what is chosen at the moment.
// All files of this folder are one script, in the order that page.py names; each uses those before it.
const data = JSON.parse(document.getElementById("practice-data").textContent);
const PARTS = ["line", "backing", "click"];
const $ = (name) => document.getElementById(name);
const store = {
  key: `vampbook:${data.title}`,
  read() { try { return JSON.parse(localStorage.getItem(this.key)) ?? {}; } catch { return {}; } },
  write(value) { try { localStorage.setItem(this.key, JSON.stringify(value)); return true; } catch { return false; } },
};
const kept = { ticks: {}, minutes: {}, look: {}, ...store.read() };
const keep = () => store.write(kept);

let line = data.lines[0], figure = null;
let speed = 1, loop = null, step = 0; // loop: [first beat, beat after the last]; step: per cent faster at each pass

// An SVG element with its attributes and its words, put into `parent`: what a page is told never becomes markup.
function shape(parent, name, attributes, words = "") {
  const made = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.textContent = words;
  parent.append(made);
  return made;
}
