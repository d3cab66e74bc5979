"""Theory against named peers, timed side by side in one run: every figure is a ratio of two times of that run."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
import warnings
from collections.abc import Callable
from pathlib import Path
from statistics import median

from support.tables import ROOTS, rows

ROOT = Path(__file__).parents[2]
AIMS = {  # issue 2
    "parse 60 symbols, music21 / ours, new texts": 1000.0,
    "parse 60 symbols, pychord / ours, new texts": 5.0,
    "scales with a chord, music21 / ours": 10_000.0,
}
IMPORT_AIM_MS = 60.0


def symbols(count: int = 60) -> list[tuple[str, str, str]]:
    """(ours, music21's, pychord's text) of `count` chords that all three read, spread over the twelve roots."""
    found = []
    for number, row in enumerate(row for row in rows("chord_symbols.txt", 6) if row[2] != "-" and row[3] != "-"):
        root = ROOTS[number % 12]
        theirs = [cell.split(";")[-1].split()[0][1:] for cell in row[2:4]]
        found.append((root + row[0].split()[0][1:], root.replace("b", "-") + theirs[0], root + theirs[1]))
    while len(found) < count:  # the same qualities again on other roots, so that every text is new
        ours, one, two = found[len(found) - 12]
        found.append((ours, one, two))
    return found[:count]


def seconds(run: Callable[[], object], rounds: int) -> float:
    """Median time of one call, in seconds."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        run()
        times.append(time.perf_counter() - start)
    return median(times)


def forget(*names: str) -> None:
    """Empty the caches of theorylib's chords and spelling: those named, or every one of them."""
    from theorylib import chords, spelling

    for module in (chords, spelling):
        for name, value in vars(module).items():
            if hasattr(value, "cache_clear") and (not names or name in names):
                value.cache_clear()


def parse_ratios() -> dict[str, float]:
    """Reading 60 symbols and spelling their notes, at three depths of memory.

    cold: every cache emptied before each round, as on the first chord of a process.
    new texts: the texts are forgotten before each round, but what a suffix such as "m7b5" means is known.
    seen before: the same texts again. The peers keep no memory of texts; their classes are loaded beforehand.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from music21 import harmony
    import pychord

    from theorylib.chords import Chord

    texts = symbols()

    def ours() -> None:
        for text, _, _ in texts:
            assert Chord.parse(text).names

    def best(prepare: Callable[[], object]) -> float:
        times = []
        for _ in range(25):
            prepare()
            start = time.perf_counter()
            ours()
            times.append(time.perf_counter() - start)
        return median(times)

    pychords = seconds(lambda: [pychord.Chord(text).components() for _, _, text in texts], 25)
    music21s = seconds(lambda: [harmony.ChordSymbol(text).pitches for _, text, _ in texts], 5)
    found = {"parse 60 symbols, music21 (µs a symbol)": music21s / len(texts) * 1e6,
             "parse 60 symbols, pychord (µs a symbol)": pychords / len(texts) * 1e6}
    for state, prepare in (("cold", forget), ("new texts", lambda: forget("_parse", "_tones")), ("seen before", list)):
        mine = best(prepare)
        found |= {
            f"parse 60 symbols, ours, {state} (µs a symbol)": mine / len(texts) * 1e6,
            f"parse 60 symbols, music21 / ours, {state}": music21s / mine,
            f"parse 60 symbols, pychord / ours, {state}": pychords / mine,
        }
    return found


def look_up_ratios() -> dict[str, float]:
    """Which scales hold a chord, over every kind on twelve tonics: our masks against music21's own scale objects.

    music21's way: a concrete scale for each kind and tonic, made once beforehand, asked `match` with the chord's pitches.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from music21 import harmony, pitch, scale

    from theorylib.chords import Chord
    from theorylib.scales import all_scales, scales_with
    from theorylib.spelling import Interval, Pitch

    ours = all_scales()
    theirs = []
    for one in ours:
        steps = [Interval.of_degree(degree) for degree in (*one.degrees, "8")]
        names = [str(Pitch(one.tonic, 4).up(step)).replace("b", "-") for step in steps]
        theirs.append(scale.ConcreteScale(pitches=[pitch.Pitch(name) for name in names]))
    wanted = Chord.parse("Am7")
    scales_with(wanted.pitch_classes)  # builds the catalogue once, as music21's list is built once above
    chord = harmony.ChordSymbol("Am7")
    pitches = list(chord.pitches)

    def look_up_music21() -> list[int]:
        return [number for number, one in enumerate(theirs)
                if not one.match(pitches, comparisonAttribute="pitchClass")["notMatched"]]

    start = time.perf_counter()
    found = look_up_music21()
    music21s = time.perf_counter() - start
    mine = seconds(lambda: [scales_with(wanted.pitch_classes) for _ in range(20)], 15) / 20
    assert {ours[number] for number in found} == set(scales_with(wanted.pitch_classes)), "the two must agree first"
    return {
        "scales with a chord, ours (µs)": mine * 1e6,
        "scales with a chord, music21 (ms)": music21s * 1e3,
        "scales with a chord, music21 / ours": music21s / mine,
    }


def import_ms(rounds: int = 11) -> dict[str, float]:
    """What `import theorylib` adds to a bare interpreter, in milliseconds: medians of whole processes, taken in turn.

    Bytecode is written first, as on a machine where the package has run once; the folder for it is thrown away.
    """
    bare: list[float] = []
    ours: list[float] = []
    with tempfile.TemporaryDirectory() as folder:
        surroundings = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
        surroundings["PYTHONPYCACHEPREFIX"] = folder
        for number in range(rounds + 1):
            for code, times in (("pass", bare), ("import theorylib", ours)):
                start = time.perf_counter()
                subprocess.run([sys.executable, "-c", code], check=True, cwd=ROOT, env=surroundings)
                if number:  # the first round writes the bytecode
                    times.append(time.perf_counter() - start)
    return {
        "bare interpreter (ms)": median(bare) * 1e3,
        "import theorylib on top of it (ms)": (median(ours) - median(bare)) * 1e3,
    }


def measure() -> dict[str, float]:
    return parse_ratios() | look_up_ratios() | import_ms()


def table(figures: dict[str, float]) -> str:
    lines = []
    for name, value in figures.items():
        aim = f"   aim {AIMS[name]:,.0f}" if name in AIMS else (
            f"   aim below {IMPORT_AIM_MS:.0f}" if name.startswith("import") else "")
        lines.append(f"{name:52} {value:12,.1f}{aim}")
    return "\n".join(lines)
