"""Grips and names against an open set of 2,069 guitar fingerings: npm @tombatossals/chords-db 0.5.1 (MIT).

It is a noisy source, so shares are compared and its odd rows are listed one by one in chords_db_noise.txt. Where its
convention differs (its 11ths keep the major third, its 13ths the 11th) the row counts as a matter of convention.
"""

from __future__ import annotations

import json
from functools import lru_cache
from itertools import combinations
from pathlib import Path

import pytest

from theorylib import Chord, NoteName, names_of
from theorylib.necks.grip_fingers import fingered
from theorylib.necks.grips import grips

TABLES = Path(__file__).resolve().parents[1] / "tables"
OURS = {"major": "", "minor": "m", "mmaj7": "mMaj7", "mmaj9": "mMaj9", "mmaj7b5": "dimMaj7", "69": "6/9", "m69": "m6/9",
        "aug7": "7#5", "aug9": "9#5"}
NO_SYMBOL = {"alt", "7sg", "mmaj11"}        # names that stand for no one chord, or that we do not write
CONVENTION = {"11": "3", "maj11": "3", "13": "11", "maj13": "11"}  # the degree that the source keeps and we leave out
OPEN_MIDI = (40, 45, 50, 55, 59, 64)        # E2 A2 D3 G3 B3 E4 (MIDI 1.0)
Frets = tuple[int, ...]
EVERYDAY = ("major", "minor", "7", "maj7", "m7", "sus4", "sus2", "6", "dim7", "9", "m9", "7sus4")


@lru_cache(maxsize=1)
def rows() -> list[tuple[str, str, Chord, Frets, Frets]]:
    data = json.loads((TABLES / "chords_db.json").read_text(encoding="utf-8"))["rows"]
    return [(root, suffix, Chord.parse(root + OURS.get(suffix, suffix)), tuple(frets), tuple(fingers))
            for root, suffix, frets, fingers in data if suffix not in NO_SYMBOL]


def midis(frets: Frets) -> list[int]:
    return sorted(low + fret for low, fret in zip(OPEN_MIDI, frets, strict=True) if fret >= 0)


def sounding(frets: Frets) -> set[int]:
    return {midi % 12 for midi in midis(frets)}


def degrees(chord: Chord, wanted: set[str]) -> set[int]:
    return {tone.name.pitch_class for tone in chord.tones if tone.degree in wanted}


def as_row(frets: Frets) -> tuple[int | None, ...]:
    return tuple(None if fret < 0 else fret for fret in frets)


def test_the_shares_of_the_source() -> None:
    """77.7 % sound exactly their name, a tenth lack only the fifth; what is foreign is convention or listed noise."""
    counts = {"exact": 0, "no fifth": 0, "fewer": 0, "convention": 0}
    noise = []
    for root, suffix, chord, frets, _ in rows():
        heard, wanted = sounding(frets), set(chord.pitch_classes)
        kept = set()
        if suffix in CONVENTION:
            step = {"3": 4, "11": 5}[CONVENTION[suffix]]
            kept = {(chord.root.pitch_class + step) % 12}
        if heard == wanted:
            counts["exact"] += 1
        elif heard == wanted - degrees(chord, {"5"}):
            counts["no fifth"] += 1
        elif heard < wanted:
            counts["fewer"] += 1
        elif heard <= wanted | kept:
            counts["convention"] += 1
        else:
            noise.append(f"{root} {suffix} {' '.join('x' if fret < 0 else str(fret) for fret in frets)}")
    listed = [line for line in (TABLES / "chords_db_noise.txt").read_text(encoding="utf-8").splitlines()
              if not line.startswith("#")]
    assert noise == listed
    assert len(noise) / len(rows()) < 0.02
    assert counts["exact"] / len(rows()) == pytest.approx(0.777, abs=0.001)
    assert counts["no fifth"] / len(rows()) == pytest.approx(0.0995, abs=0.001)


def holds_our_rules(chord: Chord, frets: Frets) -> bool:
    """Whether one of the source's grips is what we call one, judged here from the rules' own words."""
    pitches, strings = midis(frets), [index for index, fret in enumerate(frets) if fret >= 0]
    pressed = [fret for fret in frets if fret > 0]
    root = chord.root.pitch_class
    wanted = set(chord.pitch_classes)
    fifth = degrees(chord, {"5"}) if len(wanted) > 3 else set()
    rooted = pitches[0] % 12 == root or len(strings) <= 4
    side_by_side = len(strings) == strings[-1] - strings[0] + 1
    one_damped = not side_by_side and strings[1:] == list(range(strings[0] + 2, strings[-1] + 1))
    reach = max(pressed, default=0) - min(pressed, default=0) <= 4 and max(pressed, default=0) <= 12
    rubs = pitches[-1] - pitches[-2] == 1 or any(
        high - low >= 13 and (high - low) % 12 == 1 for low, high in combinations(pitches, 2))
    named = {pitch % 12 for pitch in pitches} in (wanted, wanted - fifth)
    thirds = [pitch for pitch in pitches if (pitch - root) % 12 == 4]
    sharp_ninths = [pitch for pitch in pitches if (pitch - root) % 12 == 3]
    ninth_below = "#9" in chord.degrees and min(sharp_ninths, default=99) < min(thirds, default=0)
    return (named and rooted and reach and not rubs and not ninth_below and (side_by_side or one_damped)
            and len(strings) >= 3)


@lru_cache(maxsize=1)
def in_our_rules() -> list[tuple[str, Chord, Frets, Frets]]:
    """Its rows on roots E, Ab and C that hold our rules, slash chords aside: a root each of open, flat and both."""
    return [(suffix, chord, frets, fingers) for root, suffix, chord, frets, fingers in rows()
            if root in ("C", "E", "Ab") and "/" not in suffix and holds_our_rules(chord, frets)]


def test_every_grip_of_the_source_that_holds_our_rules_is_found() -> None:
    """Those not found take more than four fingers or lie wider apart than a hand reaches near the nut."""
    missing = []
    for _, chord, frets, _ in in_our_rules():
        if as_row(frets) not in {grip.frets() for grip in grips(chord)}:
            missing.append((str(chord), frets))
    assert len(in_our_rules()) > 220
    for name, frets in missing:
        pressed = [fret for fret in frets if fret > 0]
        too_wide = min(pressed) <= 3 and max(pressed) - min(pressed) == 4
        assert too_wide or fingered(as_row(frets)) is None, (name, frets)
    assert len(missing) / len(in_our_rules()) < 0.05


def test_our_fingers_are_mostly_the_source_s() -> None:
    """Hands differ, and so do its own fingers for one shape; the barre is its barre in nine cases of ten."""
    same = barres = asked_barres = 0
    for _, _, frets, fingers in in_our_rules():
        ours = fingered(as_row(frets))
        if ours is None:
            continue
        same += ours.fingers == fingers
        flat = len([finger for finger in fingers if finger == 1]) > 1
        asked_barres += flat
        barres += flat and ours.barre is not None
    assert same / len(in_our_rules()) > 0.6
    assert barres / asked_barres > 0.9


def test_one_of_its_grips_is_among_our_first_five() -> None:
    """For everyday chords, in every key; its first grip is not always what one learns first (x32010 for C is)."""
    names = {(root, suffix): chord for root, suffix, chord, _, _ in rows() if suffix in EVERYDAY}
    among = 0
    for (root, suffix), chord in names.items():
        theirs = {as_row(frets) for one, kind, _, frets, _ in rows() if (one, kind) == (root, suffix)}
        among += any(grip.frets() in theirs for grip in grips(chord)[:5])
    assert (among, len(names)) >= (126, 144)


def test_our_names_for_what_its_frets_sound() -> None:
    """Where a fingering sounds exactly its name, that name is among our first three for those notes in 99.6 %."""
    asked = right = 0
    for _, suffix, chord, frets, _ in rows():
        if "/" in suffix or sounding(frets) != set(chord.pitch_classes):
            continue
        asked += 1
        low = min(midis(frets)) % 12
        bass: NoteName = next(name for name in chord.names if name.pitch_class == low)
        right += any(name.without_bass() == chord for name in names_of(chord.names, bass)[:3])
    assert right / asked > 0.99
