"""What the pages of a PDF look like, read with poppler: how far down they are filled, and what stands alone on them.

`reach` is how far down the text area the lowest ink stands; `ink` the share of the area's height that has ink within
6 mm, so that rows pulled far apart count as what they are.
"""

from __future__ import annotations

import re
import subprocess
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

DPI = 30
_NEAR_MM = 6.0
_PAGE = re.compile(r'<page number="(\d+)"[^>]*height="(\d+)"')
_FONT = re.compile(r'<fontspec id="(\d+)" size="(\d+)"')
_TEXT = re.compile(r'<text top="(\d+)" left="(\d+)" width="(\d+)" height="(\d+)" font="(\d+)">(.*?)</text>')


@dataclass(frozen=True, slots=True)
class Page:
    """One page: shares of its text area, and the words of its last line where these are a heading's."""

    reach: float
    ink: float
    stray: str = ""


def pages_of(pdf: bytes, top_mm: float, bottom_mm: float) -> list[Page]:
    """Every page of a PDF with these margins; a footer stands in the lower one."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "a.pdf"
        path.write_bytes(pdf)
        subprocess.run(["pdftoppm", "-r", str(DPI), "-gray", str(path), f"{folder}/p"], check=True)
        inks = [_ink(np.frombuffer(one.read_bytes(), np.uint8), top_mm, bottom_mm)
                for one in sorted(Path(folder).glob("p*.pgm"))]
        words = subprocess.run(["pdftohtml", "-xml", "-stdout", "-i", str(path)], check=True, capture_output=True,
                               text=True).stdout
    return [Page(*ink, stray) for ink, stray in zip(inks, _strays(words, bottom_mm), strict=True)]


def _ink(raw: np.ndarray, top_mm: float, bottom_mm: float) -> tuple[float, float]:
    """(reach, ink) of a page drawn as a PGM."""
    head = bytes(raw[:20]).split(maxsplit=4)
    wide, high = int(head[1]), int(head[2])
    page = raw[-wide * high:].reshape(high, wide)
    per_mm = DPI / 25.4
    area = page[round(top_mm * per_mm): high - round(bottom_mm * per_mm)]
    inked = np.flatnonzero((area < 200).any(axis=1))
    if not len(inked):
        return 0.0, 0.0
    near = np.zeros(len(area), bool)
    for row in inked:
        near[max(0, row - round(_NEAR_MM * per_mm / 2)): row + round(_NEAR_MM * per_mm / 2) + 1] = True
    return (inked[-1] + 1) / len(area), float(near.mean())


def _strays(xml: str, bottom_mm: float) -> list[str]:
    """For each page its last line where that is larger than the text and nothing follows it."""
    sizes = {name: int(size) for name, size in _FONT.findall(xml)}
    found = []
    for part in xml.split("<page ")[1:]:
        page = _PAGE.search("<page " + part)
        assert page is not None
        limit = int(page[2]) * (1 - bottom_mm / 297)
        lines = [(int(top), sizes[font], re.sub("<.*?>", "", text).strip(), "<b>" in text)
                 for top, _, _, _, font, text in _TEXT.findall(part) if int(top) < limit]
        body = [size for _, size, _, bold in lines if not bold]
        last = max(lines, default=(0, 0, "", False))
        usual = max(set(body), key=body.count) if body else 0
        found.append(last[2] if last[3] and last[1] > usual and len(last[2]) > 3 else "")
    return found
