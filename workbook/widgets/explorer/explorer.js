// The explorer in the browser.
import { mounted } from "../mounted.js";
import { createApp } from "./app.js";

export default {
  initialize({ model }) { return mounted(createApp, { model, mount: model.get("mount") }); },
  render({ model, el }) { return createApp({ model, element: el, mount: model.get("mount") }); },
};
