// The explorer in the browser. Wherever its place is shown, the live view takes it; the plain page beside it is hidden.
import { createApp } from "./app.js";

// The place in a page where the explorer of this model stands, now or later: a notebook draws its outputs when it likes.
function watch(model, mount) {
  const live = new Map(); // place to how it is taken down
  const look = () => {
    for (const [place, close] of live) if (!place.isConnected) { close(); live.delete(place); }
    for (const place of document.querySelectorAll(`.${mount}`)) if (!live.has(place)) live.set(place, createApp({ model, element: place, mount }));
  };
  const seen = new MutationObserver(look);
  seen.observe(document.body, { childList: true, subtree: true });
  look();
  const end = () => {
    seen.disconnect();
    for (const [place, close] of live) { close(); place.replaceChildren(); }
    live.clear();
  };
  // A kernel that is gone answers nothing: the plain page of what was set comes back.
  model.on("comm_live_update", end);
  return end;
}

export default {
  initialize({ model }) { return watch(model, model.get("mount")); },
  render({ model, el }) { return createApp({ model, element: el, mount: model.get("mount") }); },
};
