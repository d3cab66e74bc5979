"""Whose sounds, engraving and letters a pack holds, and under which licence: a line, and the notice of the sounds.

Verovio's licence is its program's; the fonts' licences let documents hold them without a notice.
"""

from __future__ import annotations

from html import escape
from pathlib import Path

from ..play.sound import renderer_name
from ..play.voices import NAME, licence

ENGRAVING = "Notation: Verovio (LGPL-3), music font Bravura (SIL OFL 1.1)"
LETTERS = "Letters: Vampbook Serif and Sans, of Literata and Fira Sans, and Noto (SIL OFL 1.1); DejaVu Sans"
DOCUMENT = f"{ENGRAVING}. {LETTERS}."


def page_credits(*, plays: bool, soundfont: Path | str | None = None) -> str:
    """The foot of a lesson's page: sounds, if it plays, and engraving; with the notice of the sounds that are ours."""
    line = f"{_sounds(soundfont)}. {ENGRAVING}." if plays else f"{ENGRAVING}."
    notice = ""
    if plays and soundfont is None and renderer_name() == "SoundFont":
        parts = "".join(f"<p>{escape(part)}</p>" for part in licence().strip().split("\n\n"))
        notice = f"<details><summary>Licence of the sounds</summary>{parts}</details>"
    return f'<footer class="credits"><p>{escape(line)}</p>{notice}</footer>\n'


def course_credits() -> str:
    """The foot of a course's index."""
    words = f"{DOCUMENT} The sounds are named at the foot of each lesson's page."
    return f'<footer class="credits"><p>{escape(words)}</p></footer>\n'


def _sounds(soundfont: Path | str | None) -> str:
    if renderer_name(soundfont) != "SoundFont":
        return "Sounds: Vampbook's own, made of numbers (MIT)"
    # A file's name differs from machine to machine, where a lesson is built by others.
    return "Sounds: a SoundFont of the author's, under its own licence" if soundfont else f"Sounds: {NAME} (MIT)"
