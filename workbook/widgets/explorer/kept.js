// What is set is kept in the notebook: in the metadata of the cell, and as the plain page that stands beside the live one.
// A page without the notebook's own document (a dashboard) keeps nothing; everything else works there.
const ENTRY = "vampbook_explorer"; // in a cell's metadata
const IGNORED = "nbval-ignore-output"; // the tag of cells whose output is not what their code alone makes
const STILL = "vbx-still", HTML = "text/html";

export function createKept({ model, mount }) {
  const notebook = () => model.widget_manager?.context?.model ?? null;

  // The cell whose output is this explorer's place, with its number.
  function here() {
    const cells = notebook()?.cells;
    if (!cells) return null;
    for (let number = 0; number < cells.length; number += 1) {
      const cell = cells.get(number);
      if (cell.type === "code" && outputs(cell).some((one) => textOf(one).includes(mount))) return { cell, number };
    }
    return null;
  }

  const outputs = (cell) => Array.from({ length: cell.outputs.length }, (_, index) => cell.outputs.get(index));
  const textOf = (output) => [output.data?.[HTML] ?? ""].flat().join("");

  // What was kept with the cell, if it was asked for the same as now.
  function read(asked) {
    const found = here()?.cell.getMetadata(ENTRY);
    return found && found.asked === asked ? found.state : null;
  }

  function write(asked, state) {
    const cell = here()?.cell;
    if (!cell) return;
    cell.setMetadata(ENTRY, { asked, state });
    const tags = cell.getMetadata("tags") ?? [];
    if (!tags.includes(IGNORED)) cell.setMetadata("tags", [...tags, IGNORED]);
  }

  // The plain page of what is set, in place of the one before.
  function still(html) {
    const found = here();
    if (!found) return;
    const at = outputs(found.cell).findIndex((one) => textOf(one).includes(`class="${STILL}`));
    if (at < 0) return;
    const old = found.cell.outputs.get(at).toJSON();
    if (textOf(old) !== html) found.cell.outputs.set(at, { ...old, data: { ...old.data, [HTML]: html } });
  }

  // Cells under this one; false where there is no notebook to put them in.
  function insert(codes) {
    const found = here();
    if (!found) return false;
    notebook().sharedModel.insertCells(found.number + 1, codes.map((source) => ({ cell_type: "code", source, metadata: {} })));
    return true;
  }

  return { read, write, still, insert, isThere: () => Boolean(here()) };
}
