"""Cuts the faces of pages on screens out of those of print: python tests/tables/cut_web_fonts.py workbook/fonts

As WOFF 2.0 (W3C), with the signs of Latin script, Greek letters, punctuation and music; every other sign is set in
what the device has. Needs brotli from PyPI (1.2.0, MIT). The same TTFs give the same bytes.
"""

from __future__ import annotations

import sys
from pathlib import Path

from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont

CUTS = ("VampbookSans-Regular", "VampbookSans-Bold", "VampbookSerif-Regular", "VampbookSerif-Italic",
        "VampbookSerif-Bold")
SIGNS = [*range(0x20, 0x180), *range(0x218, 0x21C), *range(0x391, 0x3CA), *range(0x2010, 0x2027), 0x2032, 0x2033,
         0x203A, 0x20AC, *range(0x2190, 0x2194), 0x2206, 0x2212, 0x2248, 0x2260, 0x2264, 0x2265, 0x2293, 0x2228, 0x25B3,
         0x2610, 0x2669, 0x266A, 0x266D, 0x266E, 0x266F, 0x2713, 0x1D12A, 0x1D12B, 0x1D15E]


def main(folder: Path) -> None:
    (folder / "web").mkdir(exist_ok=True)
    for name in CUTS:
        font = TTFont(folder / f"{name}.ttf", recalcTimestamp=False)
        options = Options(layout_features=["kern", "mark", "mkmk", "ccmp", "locl", "liga", "tnum"], hinting=False,
                          name_IDs=["*"], notdef_outline=True, recalc_timestamp=False)
        slimmer = Subsetter(options)
        slimmer.populate(unicodes=SIGNS)
        slimmer.subset(font)
        font.flavor = "woff2"
        font.save(folder / "web" / f"{name}.woff2")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
