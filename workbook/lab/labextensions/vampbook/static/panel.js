// What is said over a notebook in JupyterLab: a line of words, a switch, and a button for each place or file.

export function element(name, words, attributes = {}) {
  const made = document.createElement(name);
  made.textContent = words;
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  return made;
}

export const folderOf = (path) => path.split("/").slice(0, -1).join("/");

/** Where a file beside a lesson's folder lies for Lab; null for one outside what Lab serves. */
export function within(folder, relative) {
  const parts = folder ? folder.split("/") : [];
  for (const part of relative.split("/")) {
    if (part !== "..") parts.push(part);
    else if (parts.pop() === undefined) return null;
  }
  return parts.join("/");
}

export function showCell(panel, number) {
  const notebook = panel.content;
  notebook.activeCellIndex = number - 1;
  notebook.scrollToItem?.(number - 1, "start");
  notebook.activeCell?.node.scrollIntoView({ block: "center" });
}

const SHOWN = [".html", ".pdf", ".mp3", ".ogg", ".wav", ".flac"]; // what Lab shows, what is wanted first in front

const rank = (file) => SHOWN.findIndex((ending) => file.endsWith(ending));

/** A file of a pack in a tab of Lab; a page of ours may run its own script there, apart from everything else. */
async function openFile(app, path) {
  const widget = await app.commands.execute("docmanager:open", { path });
  if (path.endsWith(".html") && widget) widget.trusted = true;
}

/** The rows of an answer: what was found, by cell; the files that were made; what else there is to know. */
export function rowsOf(app, panel, { findings = [], files = [], notes = [] }) {
  const folder = folderOf(panel.context.path), nameOf = (file) => file.split("/").at(-1);
  const shown = files.filter((file) => rank(file) >= 0).toSorted((one, other) => rank(one) - rank(other));
  const others = files.filter((file) => rank(file) < 0).map(nameOf);
  return [
    ...findings.map(({ cell, words }) => ({ label: cell ? `Cell ${cell}: ${words}` : words, open: cell ? () => showCell(panel, cell) : null })),
    ...shown.map((file) => {
      const place = within(folder, file);
      const open = place && (() => openFile(app, place));
      return { label: open ? `Open ${nameOf(file)}` : file, open };
    }),
    ...(others.length ? [{ label: `Beside ${shown.length > 1 ? "them" : "it"}: ${others.join(", ")}`, open: null }] : []),
    ...notes.map((label) => ({ label, open: null }))];
}

function listOf(rows) {
  const list = element("ul", "", { style: "margin: 4px 0; padding-left: 18px" });
  for (const { label, open } of rows) {
    const item = element("li", open ? "" : label);
    if (open) {
      const button = element("button", label, { type: "button", style: "text-align: left; cursor: pointer" });
      button.addEventListener("click", open);
      item.append(button);
    }
    list.append(item);
  }
  return list;
}

function switchOf({ label, isOn, set }) {
  const box = element("input", "", { type: "checkbox", role: "switch", style: "margin: 0 6px 0 0" });
  box.checked = isOn;
  box.addEventListener("change", () => set(box.checked));
  const made = element("label", "", { style: "float: right; margin-right: 12px; cursor: pointer" });
  made.append(box, label);
  return made;
}

/** A panel over the notebook, of which nothing is saved: `tell` writes it anew. */
function createPanel(Widget, panel) {
  const widget = new Widget(), words = element("strong", ""), rest = element("div", "");
  widget.addClass("vampbook-said");
  words.setAttribute("role", "status"); // it alone is read out: what stands below is found by who looks
  Object.assign(widget.node.style, { padding: "6px 12px", overflow: "auto",
    background: "var(--jp-layout-color2)", color: "var(--jp-ui-font-color1)", fontSize: "var(--jp-ui-font-size1)",
    borderBottom: "1px solid var(--jp-border-color1)" });
  const close = element("button", "×", { type: "button", "aria-label": "Close", style: "float: right" });
  close.addEventListener("click", () => widget.dispose());
  const side = element("span", "");
  widget.node.append(close, side, words, rest);
  panel.contentHeader.addWidget(widget);
  const tell = (said, rows, toggle) => {
    if (words.textContent !== said) words.textContent = said;
    side.replaceChildren(switchOf(toggle));
    rest.replaceChildren(...(rows.length ? [listOf(rows)] : []));
    widget.node.style.minHeight = "0"; // Lab gives it no more height than it asks for
    widget.node.style.minHeight = `${Math.min(widget.node.scrollHeight + 2, window.innerHeight * 0.35)}px`;
    panel.contentHeader.fit();
  };
  return { widget, tell };
}

/** `say(panel, words, rows)` over a notebook, in one panel each; `toggleOf(panel)` is the switch that stands in it. */
export function createSay(Widget, toggleOf) {
  const panels = new WeakMap();
  const isShown = (panel) => panels.get(panel)?.widget.isDisposed === false;
  const say = (panel, words, rows = []) => {
    if (panel.isDisposed) return;
    if (!isShown(panel)) panels.set(panel, createPanel(Widget, panel));
    panels.get(panel).tell(words, rows, toggleOf(panel));
  };
  return { say, isShown };
}
