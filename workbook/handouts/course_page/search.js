(() => {
"use strict";
const form = document.querySelector("form");
const cards = [...document.querySelectorAll(".lessons > li")];
const parts = [...document.querySelectorAll("[data-part]")];
const words = form.querySelector("[data-words]");
const facets = [...form.querySelectorAll("[data-facet]")];
const count = form.querySelector("[data-count]");
const plain = text => text.toLowerCase().replaceAll("♯", "#").replaceAll("♭", "b").replaceAll("ø", "m7b5");
const texts = new Map(cards.map(card => [card, plain(card.textContent)]));

function show() {
  const wanted = plain(words.value).split(/\s+/).filter(Boolean);
  let found = 0;
  for (const card of cards) {
    const fits = wanted.every(word => texts.get(card).includes(word)) && facets.every(one =>
      !one.value || card.getAttribute("data-" + one.dataset.facet).split("|").includes(one.value));
    card.hidden = !fits;
    found += fits;
  }
  for (const part of parts) part.hidden = !part.querySelector(".lessons > li:not([hidden])");
  count.textContent = found === 1 ? "1 lesson" : found + " lessons";
}

form.hidden = false;
form.addEventListener("input", show);
form.addEventListener("submit", event => event.preventDefault());
form.addEventListener("reset", () => setTimeout(show));
show();
})();
