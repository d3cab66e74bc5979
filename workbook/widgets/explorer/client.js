// Questions to the kernel, each answered by its number; what was told of a chord is kept, so that it is asked once.
export function createClient(model) {
  const waiting = new Map();
  let views = new Map(), last = 0;

  model.on("msg:custom", (content, buffers) => {
    const done = waiting.get(content.number);
    if (!done) return;
    waiting.delete(content.number);
    if (content.problem) done.reject(new Refused(content.problem));
    else done.resolve(buffers?.length ? { ...content.told, bytes: buffers[0] } : content.told);
  });

  function ask(kind, about = {}) {
    last += 1;
    const number = last + Math.random(); // another page on the same kernel counts too
    return new Promise((resolve, reject) => {
      waiting.set(number, { resolve, reject });
      try { model.send({ ask: kind, number, ...about }); } catch { reject(new Refused({ says: "No kernel answers: run the cell again.", value: "", nearest: [] })); }
    });
  }

  const kept = (store, key, make) => {
    if (!store.has(key)) store.set(key, make());
    return store.get(key);
  };

  return {
    ask,
    view: (number) => kept(views, number, () => ask("view", { view: number })),
    know: (view) => views.set(view.view, Promise.resolve(view)),
    forget: () => { views = new Map(); },
  };
}

class Refused extends Error {
  constructor({ says, value, nearest }) {
    super(says);
    this.value = value;
    this.nearest = nearest;
  }
}
