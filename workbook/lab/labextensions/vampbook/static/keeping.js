// The switch that keeps a lesson's pack current: a kernel of its own on the server, which a page loaded anew finds again.
import { folderOf, rowsOf, within } from "./panel.js";

const KERNEL = "python3", MAKING = "The pack is being made …";
const OFF = "The pack is no longer kept current", LOST = `${OFF}: it was switched off elsewhere, or its process ended`;

/** Where the server keeps the session of a notebook: in the lesson's folder, so that the kernel works there. */
export function placeOf(path) {
  const folder = folderOf(path);
  return `${folder ? `${folder}/` : ""}.vampbook-keeps-${path.split("/").at(-1)}`;
}

const codeFor = (call) => `from workbook.lab import keeping\nkeeping.${call}`;

/** Answers out of what a kernel prints, which comes in pieces. */
export function createReader(tell) {
  let begun = "";
  return (text) => {
    const lines = (begun + text).split("\n");
    begun = lines.pop();
    for (const line of lines) {
      let answer = null;
      try {
        answer = JSON.parse(line);
      } catch {
        continue; // the rest of a line that began before we listened
      }
      tell(answer);
    }
  };
}

export function createKeeper({ app, tracker, say, isShown, changed }) {
  const { sessions } = app.serviceManager;
  const kept = new Map(); // by the path of the notebook: its session, and what was told last

  const panelsOf = (path) => tracker.filter((panel) => panel.context.path === path);

  /** What was told, unless the teacher closed the panel and nothing else is wrong than what stood there. */
  function show(path, words, answer, isAsked = false) {
    const one = kept.get(path), wrong = JSON.stringify([answer.error ?? "", answer.findings ?? []]);
    const isNews = Boolean(answer.error || answer.findings?.length) && one?.wrong !== wrong;
    if (one && words !== MAKING) one.wrong = wrong;
    for (const panel of panelsOf(path))
      if (isAsked || isNews || isShown(panel)) say(panel, words, rowsOf(app, panel, answer));
  }

  /** What of the pack is open in Lab shows what was made. */
  async function renewOpen(path, files) {
    const places = new Set(files.map((file) => within(folderOf(path), file)));
    for (const widget of app.shell.widgets("main"))
      if (places.has(widget.context?.path) && widget.context.isReady && !widget.context.model.dirty) await widget.context.revert();
  }

  function told(path, answer) {
    const one = kept.get(path);
    if (!one || Object.keys(answer).length === 0) return;
    if (answer.ended) {
      forget(path, answer.error);
      return;
    }
    one.answer = answer;
    show(path, answer.error ?? answer.words, answer);
    if (answer.files) void renewOpen(path, answer.files);
  }

  /** It ended by itself, or somebody ended it. */
  function forget(path, why) {
    const one = kept.get(path);
    if (!one) return;
    kept.delete(path);
    changed();
    show(path, why ? `${OFF}: ${why}` : LOST, {}, true);
    void one.session.shutdown().catch(() => {});
  }

  function listen(path, session) {
    kept.set(path, { session, answer: {} });
    const read = createReader((answer) => told(path, answer));
    session.iopubMessage.connect((_, { header, content }) => {
      if (kept.get(path)?.session !== session) return;
      if (header.msg_type === "stream" && content.name === "stdout") read(content.text);
      if (header.msg_type === "error") forget(path, content.evalue);
    });
    session.statusChanged.connect((_, status) => {
      if (["autorestarting", "restarting", "dead"].includes(status) && kept.get(path)?.session === session) forget(path);
    });
    session.disposed.connect(() => kept.get(path)?.session === session && forget(path));
    changed();
  }

  const ask = (session, call) => session.kernel.requestExecute({ code: codeFor(call), store_history: false }).done;

  async function switchOn(panel) {
    const { path } = panel.context, name = path.split("/").at(-1);
    if (kept.has(path)) return;
    say(panel, MAKING);
    if (panel.context.model.dirty) await panel.context.save();
    try {
      if (await find(path)) return;
      const session = await sessions.startNew({ name: `keeps the pack of ${name} current`, path: placeOf(path), type: "console", kernel: { name: KERNEL } });
      listen(path, session);
      show(path, MAKING, {}, true);
      await ask(session, `keep(${JSON.stringify(name)})`);
    } catch (error) {
      if (kept.has(path)) forget(path, error.message);
      else say(panel, error.message);
    }
  }

  async function switchOff(path) {
    const one = kept.get(path);
    if (!one) return;
    kept.delete(path);
    changed();
    show(path, OFF, {}, true);
    await one.session.shutdown().catch(() => {});
  }

  /** Take up what was switched on before this page was loaded, or on another; was there such? */
  async function find(path) {
    await sessions.refreshRunning();
    const model = [...sessions.running()].find((one) => one.path === placeOf(path));
    if (!model || kept.has(path)) return Boolean(model);
    const session = sessions.connectTo({ model });
    listen(path, session);
    show(path, MAKING, {}, true);
    await ask(session, "told()");
    return true;
  }

  async function follow(panel) {
    await panel.context.ready;
    let { path } = panel.context;
    panel.context.saveState.connect((_, state) => {
      if (state === "completed" && kept.has(path)) show(path, MAKING, kept.get(path).answer);
    });
    panel.context.pathChanged.connect(async () => {
      const before = path;
      ({ path } = panel.context);
      if (!kept.has(before)) return;
      await switchOff(before);
      await switchOn(panel);
    });
    panel.disposed.connect(() => panelsOf(path).every((one) => one === panel) && switchOff(path));
    await find(path);
  }

  tracker.forEach((panel) => void follow(panel));
  tracker.widgetAdded.connect((_, panel) => void follow(panel));
  const set = (panel, isOn) => (isOn ? switchOn(panel) : switchOff(panel.context.path));
  return { isOn: (path) => kept.has(path), set };
}
