// Lessons in JupyterLab and Notebook: a card in the launcher, a menu, and what was found over the notebook.
// Written by hand as what Lab asks of a prebuilt extension: a container with init and get. Nothing is built.
(() => {
  const NAME = "vampbook", KERNEL = "python3", LONGEST_MS = 600_000, KEEP = "Keep the pack current";
  const HERE = document.currentScript.src;
  const EXPORTS = { lesson_handout: "Lesson handout (PDF)", practice_page: "Practice page (HTML)" };
  const EXPORT_MENU = "jp-mainmenu-file-notebookexport", EXPORT = "notebook:export-to-format";
  const FEELS = ["straight 8", "straight 16", "swing", "shuffle"];
  let scope = null, parts = null; // the modules that Lab shares, and our own beside this script

  /** A module that Lab shares with its extensions, of several versions the newest; null where there is none. */
  async function shared(name) {
    const versions = Object.entries(scope[name] ?? {});
    versions.sort(([one], [other]) => one.localeCompare(other, undefined, { numeric: true }));
    try {
      return versions.length ? (await versions.at(-1)[1].get())() : null;
    } catch {
      return null; // offered, but not what it needs itself, as notebooks are on a page that shows none
    }
  }

  /** The answer of workbook.lab to one request, from a kernel of its own: the lesson's is left as it is. */
  async function asked(app, folder, request) {
    const session = await app.serviceManager.sessions.startNew(
      { name: NAME, path: `${folder ? `${folder}/` : ""}.${NAME}-${crypto.randomUUID()}`, type: "console", kernel: { name: KERNEL } });
    try {
      const code = `from workbook.lab import answer\nprint(answer(${JSON.stringify(JSON.stringify(request))}))`;
      const future = session.kernel.requestExecute({ code, store_history: false });
      let text = "", problem = "";
      future.onIOPub = ({ header, content }) => {
        if (header.msg_type === "stream" && content.name === "stdout") text += content.text;
        if (header.msg_type === "error") problem = content.evalue;
      };
      const late = new Promise((_, fail) => setTimeout(() => fail(new Error("no answer in ten minutes")), LONGEST_MS));
      await Promise.race([future.done, late]);
      return problem ? { error: problem } : JSON.parse(text);
    } catch (error) {
      return { error: error.message };
    } finally {
      await session.shutdown();
    }
  }

  /** Everything that may be commanded, over the parts of Lab that are there. */
  function createCommands({ app, tracker, Widget, dialogs, changed }) {
    const { createSay, rowsOf, folderOf, within } = parts;
    const toggleOf = (panel) => ({ label: KEEP, isOn: keeper.isOn(panel.context.path), set: (isOn) => keeper.set(panel, isOn) });
    const { say, isShown } = createSay(Widget, toggleOf);
    const keeper = parts.createKeeper({ app, tracker, say, isShown, changed });

    async function work(what, busy) {
      const panel = tracker.currentWidget;
      if (!panel) return;
      if (panel.context.model.dirty) await panel.context.save();
      const { path } = panel.context;
      say(panel, busy);
      const answer = await asked(app, folderOf(path), { what, name: path.split("/").at(-1) });
      if (answer.error) say(panel, answer.error);
      else say(panel, answer.words, rowsOf(app, panel, answer));
    }

    const check = () => work("check", "Checking this lesson …");
    const build = () => work("build", "Building this lesson …");
    const isKept = () => tracker.currentWidget !== null && keeper.isOn(tracker.currentWidget.context.path);
    const keep = () => keeper.set(tracker.currentWidget, !isKept());

    /** Asks for title and changes until a lesson can be written of them, then opens it. */
    async function create({ cwd = folderOf(tracker.currentWidget?.context.path ?? "") } = {}) {
      let given = { title: "", changes: "| Gm7 | C9 |", tempo: "92", feel: "straight 16" }, problem = "";
      for (;;) {
        const body = createForm(Widget, given, problem);
        const { button, value } = await dialogs.showDialog({ title: "New lesson", body,
          buttons: [dialogs.Dialog.cancelButton(), dialogs.Dialog.okButton({ label: "Write it" })], focusNodeSelector: "input" });
        if (!button.accept) return;
        given = value;
        const answer = await asked(app, cwd, { what: "new", ...given });
        if (!answer.error) {
          await app.commands.execute("docmanager:open", { path: within(cwd, answer.path) ?? answer.path });
          return;
        }
        problem = answer.error;
      }
    }
    return { check, build, create, keep, isKept };
  }

  function createForm(Widget, given, problem) {
    const { element } = parts, body = new Widget(), fields = {};
    for (const [name, words] of [["title", "Title"], ["changes", "Changes"], ["tempo", "Tempo (quarter notes a minute)"], ["feel", "Feel"]]) {
      const label = element("label", words, { style: "display: block; margin: 6px 0" });
      const field = element(name === "feel" ? "select" : "input", "", { class: "jp-mod-styled", name, style: "display: block; width: 100%" });
      if (name === "feel") field.append(...FEELS.map((feel) => element("option", feel)));
      field.value = given[name];
      fields[name] = field;
      label.append(field);
      body.node.append(label);
    }
    if (problem) body.node.prepend(element("p", problem, { role: "alert", style: "color: var(--jp-error-color1); max-width: 34em" }));
    body.getValue = () => Object.fromEntries(Object.entries(fields).map(([name, field]) => [name, field.value]));
    return body;
  }

  /** Lab names the formats of its export menu by the server's keys: ours get their own words once they are there. */
  function nameExports(mainMenu) {
    const menu = mainMenu.fileMenu.items.find((one) => one.submenu?.id === EXPORT_MENU)?.submenu;
    const there = Array.from(menu?.items ?? []).toReversed(); // as it is before any is moved to the top
    for (const item of there) {
      const label = EXPORTS[item.args?.format];
      if (item.command === EXPORT && label && item.args.label !== label) {
        menu.removeItem(item);
        menu.insertItem(0, { command: EXPORT, args: { ...item.args, label } });
      }
    }
  }

  async function activate(app, tracker, launcher, mainMenu, palette) {
    const [{ Widget, Menu }, dialogs, ...ours] = await Promise.all([shared("@lumino/widgets"), shared("@jupyterlab/apputils"),
      ...["./panel.js", "./keeping.js"].map((name) => import(new URL(name, HERE)))]);
    parts = Object.assign({}, ...ours);
    let commands = [];
    const changed = () => commands.forEach(([command]) => app.commands.notifyCommandChanged(command));
    const { check, build, create, keep, isKept } = createCommands({ app, tracker, Widget, dialogs, changed });
    const isEnabled = () => tracker.currentWidget !== null && tracker.currentWidget === app.shell.currentWidget;
    commands = [
      [`${NAME}:new`, { label: (args) => (args.card ? "Lesson" : "New lesson…"), caption: "Write a lesson on some changes", execute: create }],
      [`${NAME}:check`, { label: "Check this lesson", execute: check, isEnabled }],
      [`${NAME}:build`, { label: "Build this lesson", execute: build, isEnabled }],
      [`${NAME}:keep`, { label: KEEP, execute: keep, isEnabled, isToggleable: true, isToggled: isKept }]];
    const menu = new Menu({ commands: app.commands });
    menu.title.label = "Lesson";
    for (const [command, options] of commands) {
      app.commands.addCommand(command, options);
      menu.addItem({ command });
      palette?.addItem({ command, category: "Lesson" });
    }
    tracker.currentChanged.connect(changed);
    mainMenu?.addMenu(menu, true, { rank: 45 });
    launcher?.add({ command: `${NAME}:new`, args: { card: true }, category: "Notebook", rank: 99 });
    if (mainMenu) {
      const exports = mainMenu.fileMenu.items.find((one) => one.submenu?.id === EXPORT_MENU)?.submenu;
      exports?.aboutToClose.connect(() => nameExports(mainMenu));
      tracker.widgetAdded.connect(async () => {
        await app.serviceManager.nbconvert.getExportFormats(false);
        setTimeout(() => nameExports(mainMenu), 0);
      });
    }
  }

  async function plugin() {
    const [notebook, launcher, menus, apputils] = await Promise.all(
      ["@jupyterlab/notebook", "@jupyterlab/launcher", "@jupyterlab/mainmenu", "@jupyterlab/apputils"].map(shared));
    const optional = [notebook?.INotebookTracker, launcher?.ILauncher, menus?.IMainMenu, apputils?.ICommandPalette];
    const there = optional.filter(Boolean);
    return { id: `${NAME}:lesson`, description: "Writes, checks, builds lessons and keeps their packs current.", autoStart: true,
      optional: there, // a page without notebooks has no tracker of them
      activate: async (app, ...given) => {
        const [tracker, ...rest] = optional.map((token) => (token ? given[there.indexOf(token)] : null));
        if (tracker) await activate(app, tracker, ...rest);
      } };
  }

  const containers = "_JUPYTERLAB"; // where Lab looks for them
  window[containers] ??= {};
  window[containers][NAME] = {
    init: (all) => { scope = all; },
    get: async () => {
      const made = await plugin();
      return () => ({ __esModule: true, default: [made] });
    },
  };
})();
