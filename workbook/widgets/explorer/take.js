// Taking along: cells that make the same, copied, put under the explorer, into a lesson's file or into a new lesson.
import { button, createBox, quiet, tag } from "./html.js";
import { linkOf } from "./state.js";

export function createTake(app) {
  const box = createBox(app.part("take")), acts = createBox(app.part("acts"));

  function paint() {
    const count = app.state.get().pins.length;
    const what = count ? `${count} pinned` : "";
    acts.paint([tag("div", { class: "tools" }, button("copy", { class: "go" }, "Copy as cell"), button("add", {}, what ? `Add to lesson (${what})` : "Add to lesson"),
      button("undo", { disabled: !app.state.canUndo(), "aria-keyshortcuts": "Control+Z" }, "Undo"), button("redo", { disabled: !app.state.canRedo(), "aria-keyshortcuts": "Control+Shift+Z" }, "Redo"))]);
    box.paint([app.fold("take", "Take along", () => [
      tag("pre", { class: "code", tabindex: 0, "aria-label": "The cells that make this" }, (app.cells ?? []).join("\n\n")),
      tag("div", { class: "row" }, tag("label", { class: "field grow" }, quiet("A lesson's file"), tag("input", { type: "text", id: `${app.id}-path`, placeholder: "lessons/slack-water.ipynb", "data-f": "path", spellcheck: "false" })), button("file", {}, "Add to this file")),
      tag("div", { class: "row" }, tag("label", { class: "field grow" }, quiet("Title of a new lesson"), tag("input", { type: "text", id: `${app.id}-title`, "data-f": "title" })), button("new", {}, "New lesson")),
      tag("div", { class: "tools" }, button("link", {}, "Copy link text"), quiet("Pasted into Changes it brings all of this back.")),
    ])]);
  }

  const value = (name) => box.element.querySelector(`#${app.id}-${name}`).value.trim();

  async function copied(text, said) {
    try {
      await navigator.clipboard.writeText(text);
      app.say(said);
    } catch {
      app.say("The browser does not let this page copy: take the text from “Take along”.");
      app.unfold("take");
    }
  }

  async function written(kind, about) {
    try { app.say(await app.ask(kind, { ...about, state: app.state.get() })); } catch (error) { app.say(error.message); }
  }

  Object.assign(app.acts, {
    copy: () => copied((app.cells ?? []).join("\n\n"), "Copied: paste it into a cell."),
    copyPhrase: () => copied(app.phraseCode(), "The phrase is copied: paste it into a cell."),
    link: () => copied(linkOf(app.state.get()), "The link text is copied."),
    add: async () => {
      const cells = await app.freshCells();
      if (app.kept.insert(cells)) app.say(`${cells.length === 1 ? "1 cell stands" : `${cells.length} cells stand`} under this one: run ${cells.length === 1 ? "it" : "them"} to see.`);
      else { app.unfold("take"); app.say("Here only a file can be added to: name it under “Take along”."); }
    },
    file: () => (value("path") ? written("file", { path: value("path") }) : app.say("Name the lesson's file first.")),
    new: () => (value("title") ? written("new", { title: value("title") }) : app.say("Give the new lesson a title first.")),
    undo: () => app.state.undo(),
    redo: () => app.state.redo(),
  });
  return { paint };
}
