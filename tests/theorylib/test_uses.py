"""Where an arpeggio can be used, the fewest for a chart, names for sets of notes (common practice, no source)."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from theorylib import Chord, common_arpeggios, names_of, uses_of
from theorylib.errors import ChordError, SpellingError
from theorylib.reading.substitutes import judge_one


def test_uses_in_the_open() -> None:
    found = {str(use.chord): use for use in uses_of("Cmaj7")}
    assert found["Am7"].degrees == ("b3", "5", "b7", "9")
    assert found["Dm7"].degrees == ("b7", "9", "11", "13")
    assert "♭3 5 ♭7 of Am7 with the 9 as colour" in found["Am7"].sound
    assert "G7" not in found, "its C rubs against the third"


def test_uses_in_a_key_name_the_function() -> None:
    found = {use.numeral: use for use in uses_of("Dm7b5", "A minor")}
    assert found["V7alt"].degrees == ("b7", "b9", "3", "#5")
    assert str(found["bII7"].chord) == "Bb7"


def test_uses_and_substitutes_agree() -> None:
    for use in uses_of("Em7"):
        judged = judge_one(Chord.parse("Em7"), use.chord)
        assert judged is not None
        assert (judged.degrees, judged.score) == (use.degrees, use.score)
        assert judged.reach != "outside"
        assert not judged.clashes


def test_the_fewest_arpeggios_for_a_chart() -> None:
    known = ["Cmaj7", "Am7", "Dm7b5", "Gmaj7", "Bm7", "F#m7b5", "Bb7"]
    found = common_arpeggios("Am7 | D7 | Gmaj7 | E7#9", known)
    assert len(found.plan) == 4
    assert set(found.arpeggios) <= set(known)
    # no smaller set serves: checked by trying every one
    for size in range(1, len(found.arpeggios)):
        for chosen in combinations(known, size):
            with pytest.raises(ChordError, match="no known arpeggio serves"):
                common_arpeggios("Am7 | D7 | Gmaj7 | E7#9", chosen)


def test_shifts_are_kept() -> None:
    known, frets = ["Am7", "Em7", "Dm7"], {"Am7": 5, "Em7": 7, "Dm7": 5}
    free = common_arpeggios("Am7 | Em7 | Am7 | Em7", ["Am7", "Em7"], root_frets=frets)
    assert free.shifts <= 3
    held = common_arpeggios("Am7 | Dm7", known, root_frets=frets, most_shifts=0)
    assert held.shifts == 0
    with pytest.raises(ChordError, match="no known arpeggio serves E7#9"):
        common_arpeggios("Am7 | E7#9", ["Am7"])


def test_each_chord_hears_a_guide_tone_of_its_own() -> None:
    """Semitones of the guide tones above each root (common practice, no source): b3 b7, 3 b7, 3 7, 3 6, 4 b7."""
    telling = {"Dm7": {3, 10}, "G7": {4, 10}, "Cmaj7": {4, 11}, "F6": {4, 9}, "A7sus4": {5, 10}}
    known = ["Asus2", "Dsus2", "Esus4", "Am7", "F", "Bm7b5", "Em7", "Gsus2", "Dm"]
    for chords in combinations(telling, 3):
        found = common_arpeggios(" | ".join(chords), known)
        for chord, _, one in found.plan:
            above = {(pitch - chord.root.pitch_class) % 12 for pitch in one.arpeggio.pitch_classes}
            assert above & telling[str(chord)], f"{one.arpeggio} says nothing of {chord}"
    with pytest.raises(ChordError, match=r"no known arpeggio serves Am7; expected .* that states a guide tone"):
        common_arpeggios("| Am7 |", ["Asus2", "Esus4"])
    assert common_arpeggios("| C5 |", ["C"], key="C major").arpeggios == ("C",)  # a power chord has none to state


@pytest.mark.parametrize(("notes", "first"), [
    ("C E", "Cno5"), ("C Eb", "Cmno5"), ("C F", "F5/C"), ("C G", "C5"), ("G C", "C5/G"), ("C A", "Amno5/C"),
    ("C Ab", "Abno5/C"), ("E C", "Cno5/E"), ("C D", "Csus2no5"), ("C Bb", "C7no3no5"), ("C B", "Cmaj7no3no5"),
    ("C F#", "Cdimno3"), ("C E A", "Am/C"), ("C Eb A", "Adim/C"), ("C G A", "C6no3"), ("C G Bb", "C7no3"),
    ("C Eb G A", "Cm6"), ("F A D", "Dm/F"), ("C E G A D", "C6/9"), ("Bb D F G", "Bb6"),
])
def test_two_notes_and_sixths(notes: str, first: str) -> None:
    assert str(names_of(notes.split())[0]) == first


def test_every_pair_of_notes_has_a_name() -> None:
    notes = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"]
    for low in notes:
        for high in notes:
            assert bool(names_of([low, high])) == (low != high)


def test_sixths_keep_both_their_names() -> None:
    assert [str(name) for name in names_of(["C", "E", "G", "A"])[:2]] == ["C6", "Am7/C"]
    assert "C6no5" in [str(name) for name in names_of(["C", "E", "A"])]
    assert "Am6" in [str(name) for name in names_of(["A", "C", "E", "F#"])]


@pytest.mark.parametrize(("notes", "bass", "first"), [
    ("F A C", "G", "G9sus4no5"), ("C E G", None, "C"), ("E G C", None, "C/E"), ("A C E G", None, "Am7"),
    ("C E G A", None, "C6"), ("B D F Ab", None, "Bdim7"), ("G B F", None, "G7no5"), ("C G", None, "C5"),
    ("D F Ab C", None, "Dm7b5"), ("C E G B D", None, "Cmaj9"), ("A C E", "G", "Am7/G"), ("G# B D F", "E", "E7b9"),
])
def test_names(notes: str, bass: str | None, first: str) -> None:
    assert str(names_of(notes.split(), bass)[0]) == first


@settings(max_examples=150, deadline=None)
@given(st.lists(st.sampled_from(["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"]), min_size=1,
                max_size=6, unique=True))
def test_every_name_sounds_the_notes(notes: list[str]) -> None:
    """Read each symbol back: it sounds just these pitch classes, the first note in the bass."""
    from theorylib.names.spelling import NoteName

    classes = {NoteName(note).pitch_class for note in notes}
    for chord in names_of(notes):
        assert chord.pitch_classes == classes
        assert (chord.bass or chord.root).pitch_class == NoteName(notes[0]).pitch_class


def test_refusals() -> None:
    with pytest.raises(SpellingError, match="no notes to name"):
        names_of([])
    with pytest.raises(ChordError, match="no chord has no uses"):
        uses_of("N.C.")
