"""The reading of changes: a table of forms by common practice, the same answer in every key, and stated keys.

The table (tests/tables/changes.txt) is common practice, no source. What it says is typed by hand, never taken from the
code; forms that are read otherwise are named here with what is heard instead.
"""

from __future__ import annotations

import hashlib
import os
import re

import pytest
from support.changes import Form, faults, forms

from theorylib import Chart, Harmony, harmony
from theorylib.changes.form import shaped
from theorylib.errors import ChartError
from theorylib.reading.harmony import runs_of

EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))

# Forms whose reading is not found, with what is found instead.
MISSED = {
    "whole tones of ii V I": "a ii-V-I of two bars stays a tonicisation in the key that returns",
    "planing dominants": "E9 Eb9 D9 Eb9 is heard from Eb, to which E9 falls as its tritone substitute",
    "thirds down two bars each": "a V7 and I without a ii stay in the key that returns",
    "four chords from IV": "F G C Am is heard from the F that opens it",
    "pop: vi IV I V in major by its section": "the A minor that opens the second part outweighs the first C",
}


def wrong_in(some: list[Form]) -> dict[str, list[str]]:
    found = {}
    for form in some:
        for _, chart, interval in form.moved():
            said = faults(form, chart, interval, harmony(chart))
            if said:
                found[form.name] = said
    return found


def test_the_table_is_read_as_common_practice_reads_it() -> None:
    assert len(forms()) >= 400
    assert sorted(wrong_in(list(forms()))) == sorted(MISSED)


def shape(read: Harmony, up: int = 0) -> list[tuple]:
    """What must be the same in every key: numerals, scales and homes, with tonics counted down by `up`."""
    return [(_plain(one.numeral), (one.scale.tonic.pitch_class - up) % 12, one.scale.kind,
             (one.home.tonic.pitch_class - up) % 12, one.home.kind) for one in read.chords]


def _plain(numeral: str) -> str:
    """A numeral with the one choice that spelling leaves: bV is also #IV, #I is bII and so on."""
    for spelled, other in (("bV", "#IV"), ("bv", "#iv"), ("#II", "bIII"), ("#ii", "biii"), ("#I", "bII"),
                           ("#i", "bii"), ("#V", "bVI"), ("#v", "bvi")):
        if re.match(spelled + r"(?![IViv])", numeral):
            numeral = other + numeral[len(spelled):]
    return re.sub(r"/(b5|#1|#2|#5)$", lambda match: "/" + {"b5": "#4", "#1": "b2", "#2": "b3", "#5": "b6"}[match[1]],
                  numeral)


def test_every_chart_reads_alike_in_every_key() -> None:
    """A third of the forms in one other key, chosen by name; with VAMPBOOK_EXPLORE all of them in all twelve."""
    for form in forms():
        chosen = int(hashlib.sha256(form.name.encode()).hexdigest(), 16) % 33 + 1
        others = range(1, 12) if EXPLORE else (chosen,) if chosen < 12 else ()
        here = shape(harmony(form.chart)) if others else []
        for semitones in others:
            there = harmony(form.chart.transpose(semitones))
            assert shape(there, semitones) == here, f"{form.name} up {semitones}"
            assert not any(re.search("##|bb", one.numeral) for one in there.chords), f"{form.name} up {semitones}"


@pytest.mark.parametrize(("changes", "tonic", "numerals"), [
    ("Db7 | Gb7 | Db7 | % | Gb7 | % | Db7 | % | Ab7 | Gb7 | Db7 | Ab7", "Db blues", {1: "IV7", 8: "V7"}),
    ("Gb7 | Cb7 | Gb7 | % | Cb7 | % | Gb7 | % | Db7 | Cb7 | Gb7 | Db7", "Gb blues", {1: "IV7", 8: "V7"}),
    ("Dbm7 | Gbm7 | Ab7 | Dbm7", "Db minor", {1: "iv7", 2: "V7"}),
    ("Cmaj7 | C#dim7 | Dm7 | G7", "C major", {1: "#i°7"}),
    ("Cmaj7 | Ebdim7 | Dm7 | G7", "C major", {1: "biii°7"}),
    ("Cmaj7 | Dbdim7 | Dm7 | G7", "C major", {1: "bii°7"}),
    ("C7 | F7 | C7 | % | F7 | F#dim7 | C7 | % | G7 | F7 | C7 | G7", "C blues", {5: "#iv°7"}),
])
def test_spelling_follows_the_typed_roots(changes: str, tonic: str, numerals: dict[int, str]) -> None:
    """Common practice, no source."""
    read = harmony(changes)
    assert str(read.homes[0].scale) == tonic
    assert {index: read.chords[index].numeral for index in numerals} == numerals


@pytest.mark.parametrize(("changes", "index", "scale"), [
    ("Am | G | F | E", 3, "E phrygian dominant"), ("Am | Dm | E | Am", 2, "E phrygian dominant"),
    ("E5 | F5 | E5 | G5", 0, "E phrygian"), ("E5 | F5 | E5 | G5", 1, "F lydian"),
    ("E | F | G | F", 0, "E phrygian dominant"), ("CmMaj7 | F7 | CmMaj7 | F7", 1, "F lydian dominant"),
    ("CmMaj7 | F7 | CmMaj7 | F7", 0, "C melodic minor"),
    ("D9sus4 | % | F9sus4 | %", 2, "F mixolydian"), ("C | E7 | F | G7", 1, "E phrygian dominant"),
    ("F7 | Bb7 | F7 | % | Bb7 | % | F7 | % | Gm7 | C7 | F7 | C7", 8, "G dorian"),
    # a slash bass is a note of the scale: the E of F/E, the Bb of C/Bb, the F# of Am/F#
    ("F | F/E | Dm | C", 1, "F major"), ("C | C/Bb | F/A | G7", 1, "C mixolydian"),
    ("Am | Am/G | Am/F# | F", 2, "A dorian"),
    ("Cm7 | Fm7 | Dm7b5 | G7", 1, "F dorian"),
])
def test_scales_by_function(changes: str, index: int, scale: str) -> None:
    """Common practice, no source."""
    assert str(harmony(changes).chords[index].scale) == scale


def test_iv_of_minor_is_a_minor_seventh_not_a_dominant() -> None:
    """Common practice, no source: Fm7 is iv7 of C minor, F7 would be a borrowed IV7."""
    minor, dominant = (harmony(f"Cm7 | {four} | Dm7b5 | G7", "C minor").chords[1] for four in ("Fm7", "F7"))
    assert (minor.numeral, minor.role) == ("iv7", "diatonic")
    assert (dominant.numeral, dominant.role) != (minor.numeral, minor.role)
    assert dominant.role == "dominant that goes elsewhere"


def test_a_half_cadence_stays_at_home() -> None:
    """Common practice, no source: a phrase that rests on V has not gone to the key of V."""
    for changes in ("C | F | C | G | C | F | C | G", "Am | Dm | Am | E | Am | Dm | Am | E7",
                    "C | F | D7 | G | C | F | G7 | C"):
        read = harmony(changes)
        assert len(read.homes) == 1
        assert read.chords[3].numeral == "V"


def test_a_turnaround_at_the_end_belongs_to_the_beginning() -> None:
    """Common practice, no source: the ii-V in the last bars leads to the first bar's key, not out of the bridge's."""
    read = harmony("Cmaj7 | Am7 | Dm7 | G7 | Cmaj7 | % | Fm7 | Bb7 | Ebmaj7 | Cm7 | Fm7 | Bb7 | Ebmaj7 | % | Dm7 | G7")
    assert [(str(span.key), span.onset_beats) for span in read.homes] == [
        ("C major", 0), ("Eb major", 24), ("C major", 56)]
    assert [one.numeral for one in read.chords][6:9] == ["ii7", "V7", "Imaj7"]
    assert [one.numeral for one in read.chords][-2:] == ["ii7", "V7"]


def test_a_given_key_is_kept_throughout() -> None:
    changes = "| Fmaj7 | % | Am7 | D7 | Gmaj7 | % | Em7 | A7 | Dmaj7 | % | Gm7 | C7 |"
    assert len(harmony(changes).homes) > 1
    read = harmony(changes, "F major")
    assert {str(one.key) for one in read.chords} == {"F major"}
    assert [one.numeral for one in read.chords][2:5] == ["iii7", "VI7", "IImaj7"]
    assert harmony(f"key: F major\n{changes}").chords == read.chords


STATED = """key: C major
[A] | Cmaj7 | Am7 | Dm7 | G7 |
key: Eb major
[B] |: Ebmaj7 | Cm7 | Fm7 | Bb7 :|
| Ebmaj7 | key: G minor | Gm | D7 | Gm |"""


def test_a_chart_states_a_change_of_key_where_it_happens() -> None:
    chart = Chart.parse(STATED)
    assert Chart.parse(str(chart)) == chart
    assert [str(key) for key in chart.stated_keys] == ["C major"] * 4 + ["Eb major"] * 9 + ["G minor"] * 3
    read = harmony(chart)
    assert [(str(span.scale), span.onset_beats) for span in read.homes] == [
        ("C major", 0), ("Eb major", 16), ("G minor", 52)]
    moved = chart.transpose(2)
    assert [str(key) for key in dict.fromkeys(moved.stated_keys)] == ["D major", "F major", "A minor"]
    assert Chart.parse(str(moved)) == moved
    assert shaped(chart).stated_keys == chart.stated_keys
    assert {str(one.key) for one in harmony(chart, "C major").chords} == {"C major"}


@pytest.mark.parametrize("text", [
    "[A] | C | F |\n[B]\nkey: Eb major\n| Eb | Ab |", "[A] | C | F |\n[B] key: Eb major\n| Eb | Ab |",
    "[A] | C | F |\nkey: Eb major\n[B] | Eb | Ab |", "[A] | C | F |\n[B] key: Eb | Eb | Ab |",
    "[A] | C | F | key: E♭ major\n[B] | Eb | Ab |", "[A] | C | F |\nkey: Eb major | Eb | Ab |",
])
def test_a_change_of_key_may_be_written_in_any_of_these_places(text: str) -> None:
    assert [str(key) for key in Chart.parse(text).stated_keys] == ["None", "None", "Eb major", "Eb major"]


@pytest.mark.parametrize(("text", "message"), [
    ("| C | F |\nkey: H major\n| G |", "did you mean|is not a scale"), ("| C | F |\nkey: C majr\n| G |", "no scale"),
    ("| C key: G major | F |", "inside a bar"), ("| C | F |\nkey: G major", "ends where a bar should follow"),
    ("| C | F |\nmeter: 3/4\n| G |", "after the first bar"),
])
def test_a_change_of_key_that_cannot_be_is_refused(text: str, message: str) -> None:
    with pytest.raises(ChartError, match=message):
        Chart.parse(text)


def test_a_repeat_returns_to_its_own_key() -> None:
    chart = Chart.parse("key: C major\n|: C | G |\nkey: F major\n| F | C7 :|")
    assert [str(key) for key in chart.stated_keys] == ["C major", "C major", "F major", "F major"] * 2


def test_ten_thousand_bars_take_time_in_proportion() -> None:
    """Counted in steps of the search, not in seconds: one for each run of a sound."""
    short, long = (Chart.parse("| Dm7 | G7 | Cmaj7 | A7 |\n" * count) for count in (10, 100))
    assert len(runs_of(long)) == 10 * len(runs_of(short))


def test_the_table_file_is_tidy() -> None:
    names = [form.name for form in forms()]
    assert len(set(names)) == len(names)
    assert sum(form.aside for form in forms()) >= 50
