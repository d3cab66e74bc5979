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
    "scales with a chord, music21 / ours, new chord": 10_000.0,
    "scales with a chord, music21 / ours, same chord": 10_000.0,
}
IMPORT_AIM_MS = 60.0
STANDARD_MODULES = "dataclasses, fractions, functools, itertools, re"  # what theorylib itself starts


def symbols(count: int = 60) -> list[tuple[str, str, str]]:
    """(ours, music21's, pychord's text) of `count` chords that all three read, spread over the twelve roots."""
    found = []
    for number, row in enumerate(
            row for row in rows("chord_symbols.txt", 6) if row[2].endswith("=") and row[3].endswith("=")):
        root = ROOTS[number % 12]
        theirs = [cell.split(";")[-1].split()[0][1:] for cell in row[2:4]]
        found.append((root + row[0].split()[0][1:], root.replace("b", "-") + theirs[0], root + theirs[1]))
    # The table may agree on fewer than `count` chords: the first ones come again on other roots.
    for number, (ours, one, two) in enumerate(found[:max(0, count - len(found))]):
        old, new = ROOTS[number % 12], ROOTS[(number + 5) % 12]
        flat = {root: root.replace("b", "-") for root in (old, new)}
        found.append((new + ours[len(old):], flat[new] + one[len(old):], new + two[len(old):]))
    return found[:count]


def once(run: Callable[[], object]) -> float:
    """Seconds that one call takes."""
    start = time.perf_counter()
    run()
    return time.perf_counter() - start


def forget(*names: str) -> None:
    """Empty the caches of theorylib's chords and spelling: those named, or every one of them."""
    from theorylib.names import chords, spelling, suffixes

    for module in (chords, spelling, suffixes):
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

    from theorylib.names.chords import Chord

    texts = symbols()

    def ours() -> None:
        for text, _, _ in texts:
            assert Chord.parse(text).names

    states: dict[str, Callable[[], object]] = {
        "cold": forget, "new texts": lambda: forget("_parse", "_tones"), "seen before": list}
    times: dict[str, list[float]] = {name: [] for name in ("music21", "pychord", *states)}
    for number in range(25):  # in turn, so that a busy moment of the machine meets all of them
        if number % 5 == 0:
            times["music21"].append(once(lambda: [harmony.ChordSymbol(text).pitches for _, text, _ in texts]))
        times["pychord"].append(once(lambda: [pychord.Chord(text).components() for _, _, text in texts]))
        for state, prepare in states.items():
            prepare()
            times[state].append(once(ours))
    typical = {name: median(found) for name, found in times.items()}
    found = {f"parse 60 symbols, {name} (µs a symbol)": typical[name] / len(texts) * 1e6 for name in typical}
    for state in states:
        found[f"parse 60 symbols, music21 / ours, {state}"] = typical["music21"] / typical[state]
        found[f"parse 60 symbols, pychord / ours, {state}"] = typical["pychord"] / typical[state]
    return found


def look_up_ratios() -> dict[str, float]:
    """Which scales hold a chord, over every kind on twelve tonics: our masks against music21's own scale objects.

    music21's way: a ConcreteScale for each kind and tonic, asked `match` with the chord's pitches by pitch class.
    first: each side's scales are new, their notes still to be worked out. new chord: the scales are known, the chord
    has not been asked before. same chord: it has (we keep the answer; music21 keeps what it knows of its scales).
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from music21 import harmony, pitch, scale

    from theorylib.names import scales
    from theorylib.names.chords import Chord
    from theorylib.names.spelling import Interval, Pitch

    every = scales.all_scales()
    theirs = []
    for one in every:
        steps = [Interval.of_degree(degree) for degree in (*one.degrees, "8")]
        names = [str(Pitch(one.tonic, 4).up(step)).replace("b", "-") for step in steps]
        theirs.append(scale.ConcreteScale(pitches=[pitch.Pitch(name) for name in names]))
    wanted = Chord.parse("Am7").pitch_classes
    pitches = list(harmony.ChordSymbol("Am7").pitches)

    def music21() -> list[int]:
        return [number for number, one in enumerate(theirs)
                if not one.match(pitches, comparisonAttribute="pitchClass")["notMatched"]]

    def ours() -> object:
        return scales.scales_with(wanted)

    for cached in (scales._facts, scales.all_scales, scales._catalogue, scales._holding):
        cached.cache_clear()
    first_ours, first_theirs = once(ours), once(music21)
    assert {every[number] for number in music21()} == set(scales.scales_with(wanted)), "the two must agree first"
    later: list[float] = []
    new: list[float] = []
    same: list[float] = []
    for _ in range(5):
        later.append(once(music21))
        for _ in range(100):
            scales._holding.cache_clear()
            new.append(once(ours))
            same.append(once(ours))
    return {
        "scales with a chord, ours, first (µs)": first_ours * 1e6,
        "scales with a chord, ours, new chord (µs)": median(new) * 1e6,
        "scales with a chord, ours, same chord (µs)": median(same) * 1e6,
        "scales with a chord, music21, first (µs)": first_theirs * 1e6,
        "scales with a chord, music21, later (µs)": median(later) * 1e6,
        "scales with a chord, music21 / ours, first": first_theirs / first_ours,
        "scales with a chord, music21 / ours, new chord": median(later) / median(new),
        "scales with a chord, music21 / ours, same chord": median(later) / median(same),
    }


def import_ms(rounds: int = 11) -> dict[str, float]:
    """What `import theorylib` adds to a bare interpreter, in milliseconds: medians of whole processes, taken in turn.

    Bytecode is written first, as on a machine where the package has run once; the folder for it is thrown away.
    """
    times: dict[str, list[float]] = {"pass": [], "import theorylib": [], f"import {STANDARD_MODULES}": []}
    with tempfile.TemporaryDirectory() as folder:
        surroundings = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
        surroundings["PYTHONPYCACHEPREFIX"] = folder
        for number in range(rounds + 1):
            for code, found in times.items():
                start = time.perf_counter()
                subprocess.run([sys.executable, "-c", code], check=True, cwd=ROOT, env=surroundings)
                if number:  # the first round writes the bytecode
                    found.append(time.perf_counter() - start)
    bare, ours, standard = (median(found) * 1e3 for found in times.values())
    return {
        "bare interpreter (ms)": bare,
        "import theorylib on top of it (ms)": ours - bare,
        "of that, its standard-library modules (ms)": standard - bare,
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
