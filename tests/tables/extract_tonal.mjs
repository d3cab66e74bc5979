// Writes tonal_chords.json and tonal_scales.json beside this file from tonal's dictionaries (see README.md).
// Run:  node tests/tables/extract_tonal.mjs <folder that holds node_modules/tonal, version 6.4.3>
import { readFileSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { dirname, join, resolve } from "node:path";
import { fileURLToPath } from "node:url";

const require = createRequire(join(resolve(process.argv[2] ?? "."), "x.js"));
const { ChordType, Note, ScaleType } = require("tonal");
const version = JSON.parse(readFileSync(join(dirname(require.resolve("tonal")), "..", "package.json"))).version;
const ROOTS = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"];
const here = dirname(fileURLToPath(import.meta.url));

function rows(types) {
  return types.map(({ name, aliases, intervals }) => [
    name,
    aliases,
    intervals.join(" "),
    ROOTS.map((root) => intervals.map((interval) => Note.transpose(root, interval)).join(" ")),
  ]);
}

for (const [file, types] of [["tonal_chords", ChordType.all()], ["tonal_scales", ScaleType.all()]]) {
  const head = `{"source": "npm tonal ${version}", "roots": ${JSON.stringify(ROOTS)}, "rows": [\n`;
  const body = rows(types).map((row) => JSON.stringify(row)).join(",\n");
  writeFileSync(join(here, `${file}.json`), `${head}${body}\n]}\n`);
}
