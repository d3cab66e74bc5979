// Wherever the place of a panel is shown in a page, its live view takes it; the plain page beside it is hidden.
const WAIT = 60; // milliseconds

// The place in a page where the panel of this model stands, now or later: a notebook draws its outputs when it likes.
// `createApp` puts the view into an element, and gives what takes it down.
export function mounted(createApp, { model, mount }) {
  const live = new Map(); // place to how it is taken down

  function look() {
    for (const place of live.keys()) if (!place.isConnected) leave(place);
    for (const place of document.querySelectorAll(`.${mount}`)) {
      if (place.dataset.live) continue; // this view's, or that of the same notebook opened twice
      place.dataset.live = "true";
      place.addEventListener("focusin", keepKeys);
      live.set(place, createApp({ model, element: place, mount }));
    }
  }

  function leave(place) {
    live.get(place)();
    live.delete(place);
    delete place.dataset.live;
    place.replaceChildren();
  }

  // A notebook changes all the time: it is looked through once in a while.
  let due = 0;
  const seen = new MutationObserver(() => { due ||= setTimeout(() => { due = 0; look(); }, WAIT); });
  seen.observe(document.body, { childList: true, subtree: true });
  look();
  const end = () => {
    seen.disconnect();
    clearTimeout(due);
    for (const place of live.keys()) leave(place);
  };
  // A kernel that is gone answers nothing: the plain page of what was set comes back.
  model.on("comm_live_update", end);
  return end;
}


// Notebook 7 looks for its own keys before the page gets them; what has the focus and bears this it leaves alone.
function keepKeys({ target }) {
  target.setAttribute("data-lm-suppress-shortcuts", "");
}
