"""Write chords_db.json from npm @tombatossals/chords-db 0.5.1 (MIT): python extract_chords_db.py path/to/guitar.json.

Rows: [root, the source's own suffix, six absolute frets from the lowest string, -1 for a string not played,
six fingers, 0 for an open string or one not played].
"""

from __future__ import annotations

import json
import sys
from pathlib import Path


def main(source: str) -> None:
    data = json.loads(Path(source).read_text(encoding="utf-8"))
    rows = [[chord["key"], chord["suffix"], [fret + position["baseFret"] - 1 if fret > 0 else fret
                                             for fret in position["frets"]],
             position["fingers"]]
            for chords in data["chords"].values() for chord in chords for position in chord["positions"]]
    text = ",\n".join(json.dumps(row, separators=(",", ":")) for row in rows)
    head = '{"source":"npm @tombatossals/chords-db 0.5.1","licence":"MIT","rows":[\n'
    Path(__file__).with_name("chords_db.json").write_text(f"{head}{text}\n]}}\n", encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1])
