(() => {
"use strict";
const form = document.querySelector("form");
const cards = [...document.querySelectorAll(".lessons > li")];
const parts = [...document.querySelectorAll("[data-part]")];
const words = form.querySelector("[data-words]");
const facets = [...form.querySelectorAll("[data-facet]")];
const count = form.querySelector("[data-count]");
const plain = text => text.toLowerCase().replaceAll("♯", "#").replaceAll("♭", "b").replaceAll("ø", "m7b5");
// Each field begins and ends with |, so that a word is found where it begins, and a whole name as it stands.
const texts = new Map(cards.map(card => [card, "|" + plain(card.dataset.words) + "|"]));
const NOTE = /^[a-g][#b]?$/;
const HOMES = /^(major|minor|ionian|dorian|phrygian|lydian|mixolydian|aeolian|locrian|blues|altered|natural|harmonic|melodic)/;

// “E minor” is one name, not an E somewhere and a minor elsewhere; a note alone is a whole word.
function wantedOf(query) {
  const found = [], typed = plain(query).split(/\s+/).filter(Boolean);
  for (let at = 0; at < typed.length; at++) {
    const isNote = NOTE.test(typed[at]), named = isNote && HOMES.test(typed[at + 1] ?? "");
    found.push(named ? { text: `${typed[at]} ${typed[++at]}` } : { text: typed[at], whole: isNote });
  }
  return found;
}

function has(text, { text: word, whole }) {
  for (let at = text.indexOf(word); at >= 0; at = text.indexOf(word, at + 1)) {
    const begins = !/[a-z0-9#]/.test(text[at - 1]), ends = !/[a-z0-9#]/.test(text[at + word.length] ?? "|");
    if (begins && (ends || !whole)) return true;
  }
  return false;
}

// What the student did with a lesson's page in this browser: minutes, and boxes ticked.
function progress(card) {
  let kept = null;
  try { kept = JSON.parse(localStorage.getItem("vampbook:pack:" + card.dataset.pack)); } catch { /* keeps nothing */ }
  const days = Object.values(kept?.days ?? {}), ticks = Object.values(kept?.ticks ?? {}).filter(on => on === true).length;
  const minutes = days.flatMap(day => Object.values(day ?? {})).reduce((sum, one) => sum + (Number(one?.minutes) || 0), 0);
  const said = [minutes >= 1 ? `${Math.round(minutes)} min practised` : "", ticks ? `${ticks} ✓` : ""].filter(Boolean);
  const place = card.querySelector("[data-progress]");
  place.hidden = !said.length;
  place.textContent = said.join(" · ");
}

function show() {
  const wanted = wantedOf(words.value);
  let found = 0;
  for (const card of cards) {
    const fits = wanted.every(word => has(texts.get(card), word)) && facets.every(one =>
      !one.value || card.getAttribute("data-" + one.dataset.facet).split("|").includes(one.value));
    card.hidden = !fits;
    found += fits;
  }
  for (const part of parts) part.hidden = !part.querySelector(".lessons > li:not([hidden])");
  count.textContent = found === 1 ? "1 lesson" : found + " lessons";
}

for (const card of cards) if (card.dataset.pack) progress(card);
form.querySelector(".filters").open = matchMedia("(min-width: 40rem)").matches;
form.hidden = false;
form.addEventListener("input", show);
form.addEventListener("submit", event => event.preventDefault());
form.addEventListener("reset", () => setTimeout(show));
show();
})();
