"""Makes the faces that pages are set in: a serif and a sans, each with accidentals and note values of a music font.

    python tests/tables/cut_fonts.py PACKAGES workbook/fonts

PACKAGES is a folder with three npm packages unpacked, each in a folder of its last name: @expo-google-fonts/literata
0.4.3, @expo-google-fonts/fira-sans 0.4.1 and @vexflow-fonts/bravura 1.0.2, all under the SIL Open Font License 1.1.
Literata and Fira Sans reserve no name; Bravura does, and so the faces bear names of their own. The text faces lack
♯ ♭ ♮: these come from the chord-symbol accidentals of SMuFL (U+ED60 to U+ED64), so high that the flat is 1.12 and the
sharp and the natural are 1.16 times a capital, thicker in the bold cut. The signs of pick strokes, a tick and its box
are drawn here. What hints a screen, and writing from top to bottom, is dropped.
"""

from __future__ import annotations

import json
import sys
from dataclasses import dataclass
from pathlib import Path

from fontTools.pens.boundsPen import BoundsPen
from fontTools.pens.cu2quPen import Cu2QuPen
from fontTools.pens.transformPen import TransformPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont

CUTS = {
    "VampbookSerif-Regular": ("literata", "400Regular/Literata_400Regular.ttf"),
    "VampbookSerif-Italic": ("literata", "400Regular_Italic/Literata_400Regular_Italic.ttf"),
    "VampbookSerif-Bold": ("literata", "700Bold/Literata_700Bold.ttf"),
    "VampbookSans-Regular": ("fira-sans", "400Regular/FiraSans_400Regular.ttf"),
    "VampbookSans-Italic": ("fira-sans", "400Regular_Italic/FiraSans_400Regular_Italic.ttf"),
    "VampbookSans-Bold": ("fira-sans", "600SemiBold/FiraSans_600SemiBold.ttf"),
}
DROPPED = ("cvt ", "fpgm", "prep", "gasp", "hdmx", "VDMX", "LTSH", "vhea", "vmtx", "STAT", "DSIG", "meta")
THICKER = {"Regular": 0.0, "Italic": 0.0, "Bold": 22.0}  # thousandths of an em
SIDE = 24                                                # room at each side, in thousandths of an em
SIGNS = "".join(map(chr, range(0x20, 0x7F))) + "°·º¼½¾×ßäéñöøüΔ–—‘’“”…☐♩♪♭♮♯✓⊓∨𝄪𝄫\u00a0"


@dataclass(frozen=True, slots=True)
class Sign:
    """A glyph of the music font: its code there, its height in capitals, and whether it is centred on their middle."""

    code: int
    capitals: float
    centred: bool = False


MUSIC = {
    "♭": Sign(0xED60, 1.12), "♮": Sign(0xED61, 1.16, True), "♯": Sign(0xED62, 1.16, True),
    "𝄪": Sign(0xED63, 0.7, True), "𝄫": Sign(0xED64, 1.12), "\U0001d15e": Sign(0xECA3, 1.2), "♩": Sign(0xECA5, 1.2),
    "♪": Sign(0xECA7, 1.2),
}


def cut(source: Path, music: TTFont, name: str) -> TTFont:
    family, style = name.replace("Vampbook", "Vampbook ").split("-")
    font = TTFont(source)
    for table in DROPPED:
        if table in font:
            del font[table]
    for glyph in font["glyf"].glyphs.values():
        glyph.expand(font["glyf"])
        if hasattr(glyph, "program"):
            glyph.program.fromBytecode(b"")
    capital = font["OS/2"].sCapHeight
    for sign, made in MUSIC.items():
        _add(font, sign, *_music(music, made, capital, THICKER[style]))
    for sign, draw in (("☐", _box), ("✓", _tick), ("△", _triangle), ("⊓", _down), ("∨", _up)):
        if ord(sign) not in font.getBestCmap():
            pen = TTGlyphPen(None)
            draw(pen, capital)
            _add(font, sign, pen, capital + 2 * SIDE)
    _slim(font)
    _rename(font, family, style)
    font["head"].modified = font["head"].created  # the same bytes each time
    font.recalcTimestamp = False
    return font


def _music(music: TTFont, sign: Sign, capital: float, thicker: float) -> tuple[TTGlyphPen, float]:
    glyph = music.getGlyphSet()[music.getBestCmap()[sign.code]]
    bounds = BoundsPen(None)
    glyph.draw(bounds)
    left, low, right, high = bounds.bounds
    scale = sign.capitals * capital / (high - low)
    down = (capital - sign.capitals * capital) / 2 if sign.centred else 0.0
    pen = TTGlyphPen(None)
    for shift in (-thicker / 2, thicker / 2) if thicker else (0.0,):  # two copies, filled as one shape
        moved = (scale, 0, 0, scale, SIDE + thicker / 2 + shift - left * scale, down - low * scale)
        glyph.draw(TransformPen(Cu2QuPen(pen, 1.0, reverse_direction=True), moved))
    return pen, (right - left) * scale + thicker + 2 * SIDE


def _box(pen: TTGlyphPen, capital: float) -> None:
    _polygon(pen, [(SIDE, 0), (SIDE, capital), (SIDE + capital, capital), (SIDE + capital, 0)])
    edge = 60
    _polygon(pen, [(SIDE + edge, edge), (SIDE + capital - edge, edge), (SIDE + capital - edge, capital - edge),
                   (SIDE + edge, capital - edge)])


def _tick(pen: TTGlyphPen, capital: float) -> None:
    _polygon(pen, [(SIDE, 0.42 * capital), (SIDE + 70, 0.5 * capital), (SIDE + 0.34 * capital, 0.2 * capital),
                   (SIDE + 0.9 * capital, capital), (SIDE + capital, 0.94 * capital), (SIDE + 0.36 * capital, 0)])


def _triangle(pen: TTGlyphPen, capital: float) -> None:
    _polygon(pen, [(SIDE, 0), (SIDE + capital / 2, capital), (SIDE + capital, 0)])
    _polygon(pen, [(SIDE + 100, 60), (SIDE + capital - 100, 60), (SIDE + capital / 2, capital - 150)])


def _down(pen: TTGlyphPen, capital: float) -> None:
    """A stroke down: the square cap of the bow."""
    wide, edge, roof = 0.72 * capital, 70, 150
    _polygon(pen, [(SIDE, 0), (SIDE, capital), (SIDE + wide, capital), (SIDE + wide, 0), (SIDE + wide - edge, 0),
                   (SIDE + wide - edge, capital - roof), (SIDE + edge, capital - roof), (SIDE + edge, 0)])


def _up(pen: TTGlyphPen, capital: float) -> None:
    wide, edge = 0.72 * capital, 85
    _polygon(pen, [(SIDE, capital), (SIDE + edge, capital), (SIDE + wide / 2, 190), (SIDE + wide - edge, capital),
                   (SIDE + wide, capital), (SIDE + wide / 2 + 45, 0), (SIDE + wide / 2 - 45, 0)])


def _polygon(pen: TTGlyphPen, corners: list[tuple[float, float]]) -> None:
    pen.moveTo(corners[0])
    for corner in corners[1:]:
        pen.lineTo(corner)
    pen.closePath()


def _add(font: TTFont, sign: str, pen: TTGlyphPen, advance: float) -> None:
    name = f"u{ord(sign):04X}"
    font.setGlyphOrder([*font.getGlyphOrder(), name])
    glyph = pen.glyph()
    font["glyf"].glyphs[name] = glyph
    glyph.recalcBounds(font["glyf"])
    font["hmtx"][name] = (round(advance), glyph.xMin)
    font["maxp"].numGlyphs += 1
    for table in font["cmap"].tables:
        if table.isUnicode() and (ord(sign) <= 0xFFFF or table.format == 12):
            table.cmap[ord(sign)] = name
    if ord(sign) > 0xFFFF and not any(table.format == 12 for table in font["cmap"].tables):
        _with_wide_signs(font)
        _add_code(font, ord(sign), name)


def _with_wide_signs(font: TTFont) -> None:
    from fontTools.ttLib.tables._c_m_a_p import CmapSubtable

    wide = CmapSubtable.newSubtable(12)
    wide.platformID, wide.platEncID, wide.language, wide.format = 3, 10, 0, 12
    wide.cmap = dict(font.getBestCmap())
    font["cmap"].tables.append(wide)


def _add_code(font: TTFont, code: int, name: str) -> None:
    for table in font["cmap"].tables:
        if table.format == 12:
            table.cmap[code] = name


def _slim(font: TTFont) -> None:
    """Glyphs that no text asks for (small capitals, old figures) go; pairs, marks and figures of one width stay."""
    options = Options(layout_features=["kern", "mark", "mkmk", "ccmp", "locl", "liga", "tnum", "lnum"], hinting=False,
                      name_IDs=["*"], notdef_outline=True, recalc_timestamp=False)
    slimmer = Subsetter(options)
    slimmer.populate(unicodes=list(font.getBestCmap()))
    slimmer.subset(font)


def _rename(font: TTFont, family: str, style: str) -> None:
    new = {1: family, 2: style, 3: f"{family} {style} 1", 4: f"{family} {style}",
           6: f"{family}-{style}".replace(" ", "")}
    names = font["name"]
    names.names = [one for one in names.names if one.nameID in (0, 5, 13, 14) and one.platformID == 3]
    for number, text in new.items():
        names.setName(text, number, 3, 1, 0x409)
    bold, italic = style == "Bold", style == "Italic"
    font["OS/2"].usWeightClass = 700 if bold else 400
    font["OS/2"].fsSelection = 0x20 if bold else 0x01 if italic else 0x40
    font["head"].macStyle = 0x01 if bold else 0x02 if italic else 0


def widths(font: TTFont) -> dict[str, int]:
    names, em = font.getBestCmap(), font["head"].unitsPerEm
    return {sign: round(1000 * font["hmtx"][names[ord(sign)]][0] / em) for sign in sorted(set(SIGNS))}


def main(packages: Path, to: Path) -> None:
    music = TTFont(packages / "bravura" / "bravura.otf")
    found: dict[str, dict[str, int]] = {}
    for name, (package, path) in CUTS.items():
        font = cut(packages / package / path, music, name)
        font.save(to / f"{name}.ttf")
        if "Sans" in name and not name.endswith("Italic"):
            found[name.split("-")[1].lower()] = widths(font)
    (to / "widths.json").write_text(json.dumps(found, ensure_ascii=False, sort_keys=True, indent=0) + "\n",
                                    encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
