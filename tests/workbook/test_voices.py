"""The sounds that come with us: whole, in every voice that we write, under a licence that goes with them.

The file is read here by the SoundFont 2.04 reader of tests/tables/extract_soundfont.py, which wrote it from its source.
"""

from __future__ import annotations

import shutil
import subprocess
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from support.music import arpeggio
from tables.extract_soundfont import Bank, small

from workbook.draw.engrave import toolkit
from workbook.draw.score import score
from workbook.handouts.page import lesson_page
from workbook.handouts.pdf import handout_pdf
from workbook.handouts.practice import MUTE, PageSound
from workbook.play import bank, smf
from workbook.play.instruments import INSTRUMENTS
from workbook.play.parts import KIT_VOICE
from workbook.play.sound import RATE, render_midi, renderer_name
from workbook.play.style import DRUM_KEYS
from workbook.play.voices import SAMPLES, TABLES, our_soundfont

ROOT = Path(__file__).resolve().parents[2]
SOURCE = Path("/usr/share/fluidr3mono-gm-soundfont/FluidR3Mono_GM.sf3")  # Debian's package fluidr3mono-gm-soundfont


def programs() -> set[tuple[int, int]]:
    """(bank, program) of every voice that we write anywhere."""
    kits = {INSTRUMENTS[voice] for voice in KIT_VOICE.values()}
    return ({(0, one.program) for one in INSTRUMENTS.values() if one.program and one not in kits}
            | {(128, one.program) for one in kits})


def notes(channel: int, program: int, keys: list[int]) -> Any:
    """Each key alone for half a second, a second apart."""
    from mido import Message, MetaMessage

    events: list[tuple[int, int, Any]] = [(0, -2, MetaMessage("set_tempo", tempo=500_000)),
                                          (0, -1, Message("program_change", channel=channel, program=program))]
    for number, key in enumerate(keys):
        start = 2 * number * smf.TICKS
        events.append((start, 1, Message("note_on", channel=channel, note=key, velocity=100)))
        events.append((start + smf.TICKS, 0, Message("note_off", channel=channel, note=key, velocity=0)))
    return render_midi(smf.file_bytes([("Notes", events)])).mean(axis=1)


def test_every_voice_that_we_write_is_there() -> None:
    found = Bank.read(our_soundfont())
    assert {(head[2], head[1]) for head in found.tables["phdr"][:-1]} == programs()
    for name, *places, rate, key, _, _, kind in found.tables["shdr"][:-1]:
        start, end, loop, loop_end = places
        assert start <= loop < loop_end <= end <= len(found.samples) // 2 - 46, name
        assert (8_000 <= rate <= 48_000, 0 <= key <= 127, kind) == (True, True, 1)
    assert SAMPLES.stat().st_size + TABLES.stat().st_size < 3_000_000


@pytest.mark.skipif(renderer_name() != "SoundFont", reason="no SoundFont renderer on this machine")
def test_every_voice_sounds_over_its_range_and_every_drum() -> None:
    for _, program in sorted(one for one in programs() if one[0] == 0):
        keys = list(range(28, 89, 6))
        audio = notes(0, program, keys)
        for number, key in enumerate(keys):
            here = audio[number * RATE:number * RATE + RATE // 2]
            assert 0.001 < np.abs(here).max() < 1, (program, key)
    kits = {program: notes(9, program, sorted(DRUM_KEYS.values())) for bank, program in programs() if bank}
    for number, key in enumerate(sorted(DRUM_KEYS.values())):
        here = [audio[number * RATE:number * RATE + RATE // 2] for _, audio in sorted(kits.items())]
        assert min(np.abs(one).max() for one in here) > 0.005, key
        if key == DRUM_KEYS["snare"]:
            assert np.abs(here[0] - here[1]).max() > 0.01, "a snare struck with brushes is another sound"


def test_it_is_what_the_script_takes_from_its_source() -> None:
    if not SOURCE.is_file():
        pytest.skip("Debian's fluidr3mono-gm-soundfont is not on this machine")
    import soundfile

    tables, samples = small(SOURCE.read_bytes())
    assert tables == TABLES.read_bytes()
    assert np.abs(samples.astype(int) - soundfile.read(SAMPLES, dtype="int16")[0]).max() <= 1  # decoders round


def lesson() -> dict[str, Any]:
    data, about = score(arpeggio("tempo: 92\n| Gm7 | C9 |", 3))._repr_mimebundle_()
    output = {"output_type": "execute_result", "data": data, "metadata": about}
    cells = [{"cell_type": "markdown", "metadata": {}, "source": "# A lesson"},
             {"cell_type": "code", "metadata": {}, "source": "1", "outputs": [output]}]
    return {"cells": cells, "metadata": {}, "nbformat": 4, "nbformat_minor": 5}


def test_a_page_says_whose_sounds_and_engraving_it_holds(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    from workbook.handouts import credits, remembered

    page = lesson_page(lesson())
    assert "Notation: Verovio (LGPL-3)" in page
    if renderer_name() == "SoundFont":
        assert "Sounds: Fluid (R3) Mono by Frank Wen, Michael Cowgill and others (MIT)" in page
        # The MIT licence asks that its two notices go with every copy.
        assert "Copyright © 2000-2002, 2008 Frank Wen" in page
        assert "The above copyright notice and this permission notice shall be\nincluded" in page
    silent = lesson_page(lesson(), MUTE)
    assert "Sounds:" not in silent
    assert "Frank Wen" not in silent
    monkeypatch.setattr(remembered, "bank_of",
                        lambda lengths, **choices: bank.Bank(b"", dict.fromkeys(lengths, (0, 0))))
    other = tmp_path / "hers & his.sf2"
    other.write_bytes(b"x")
    page = lesson_page(lesson(), PageSound(soundfont=other))
    assert "Frank Wen" not in page
    if renderer_name() == "SoundFont":
        assert "Sounds: a SoundFont of the author&#x27;s, under its own licence" in page
        assert "hers &" not in page
    monkeypatch.setattr(credits, "renderer_name", lambda soundfont=None: "numpy")
    page = lesson_page(lesson())
    assert "Sounds: Vampbook&#x27;s own, made of numbers (MIT)" in page
    assert "Frank Wen" not in page


def test_the_index_of_a_course_says_it() -> None:
    from workbook.handouts.course_page import course_page

    foot = course_page("A", "b", []).partition('<footer class="credits">')[2]
    assert "Verovio (LGPL-3)" in foot
    assert "Noto (SIL OFL 1.1)" in foot
    assert "named at the foot of each lesson&#x27;s page" in foot


def test_a_handout_says_it_in_its_properties(tmp_path: Path) -> None:
    if shutil.which("pdfinfo") is None:
        pytest.skip("no pdfinfo on this machine")
    (tmp_path / "a.pdf").write_bytes(handout_pdf(lesson()))
    said = subprocess.run(["pdfinfo", str(tmp_path / "a.pdf")], capture_output=True, text=True, check=True).stdout
    assert "Notation: Verovio (LGPL-3), music font Bravura (SIL OFL 1.1)" in said


def test_the_engraver_uses_the_font_that_is_named() -> None:
    score(arpeggio("| Am7 | D7 |"))
    assert toolkit().getOptions()["font"] == "Bravura"


def test_nothing_under_the_gpl_is_installed_for_its_sounds() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert not any(one.startswith("pretty_midi") for one in project["dependencies"])
    assert "workbook/play/sounds/LICENSE*" in project["license-files"]
