// Small pieces of the page: an element by its name, a button, words made into elements.
export const $ = (name) => document.getElementById(name);

// An HTML element: properties as they are named (`aria-…` and `data-…` as attributes), then pieces and words.
export function make(name, about = {}, ...inside) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(about)) {
    if (key.includes("-")) made.setAttribute(key, value);
    else made[key] = value;
  }
  made.append(...inside);
  return made;
}

export function press(name, act) {
  $(name).addEventListener("click", act);
}

// A box, list or field that shows a value that is kept: `read` it, `write` it, then `after`.
export function bind(name, { read, write, after }) {
  const field = $(name), isBox = field.type === "checkbox";
  const show = () => {
    if (isBox) field.checked = Boolean(read());
    else if (field !== document.activeElement || field.tagName === "SELECT") field.value = read();
  };
  field.addEventListener("change", () => {
    write(isBox ? field.checked : field.value);
    after?.();
    show();
  });
  show();
  return show;
}
