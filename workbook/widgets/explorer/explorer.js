// The explorer in the browser. Wherever its place is shown, the live view takes it; the plain page beside it is hidden.
import { createApp } from "./app.js";

const WAIT = 60; // milliseconds

// The place in a page where the explorer of this model stands, now or later: a notebook draws its outputs when it likes.
function watch(model, mount) {
  const live = new Map(); // place to how it is taken down

  function look() {
    for (const place of live.keys()) if (!place.isConnected) leave(place);
    for (const place of document.querySelectorAll(`.${mount}`)) {
      if (place.dataset.live) continue; // this view's, or that of the same notebook opened twice
      place.dataset.live = "true";
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

export default {
  initialize({ model }) { return watch(model, model.get("mount")); },
  render({ model, el }) { return createApp({ model, element: el, mount: model.get("mount") }); },
};
