"""Chord symbols against music21, pychord, tonal and mir_eval, each under its own convention; round trips."""

from __future__ import annotations

import os
import warnings
from itertools import combinations, permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.examples import examples
from support.refusals import read_or_refuse
from support.tables import ROOTS, rows, tonal

from theorylib.errors import ChordError
from theorylib.names.chords import NO_CHORD, Chord
from theorylib.names.qualities import MODIFIER_READS, QUALITIES, READS
from theorylib.names.spelling import Interval, NoteName

SYMBOLS = rows("chord_symbols.txt", 6)
REASONS = set("KADFNSX")
EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))
SOURCES = {"music21": 2, "pychord": 3, "tonal": 4}


@pytest.fixture(scope="module")
def music21_names():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from music21 import harmony

    def read(symbol: str, root: str) -> set[str] | None:
        try:
            pitches = harmony.ChordSymbol(root.replace("b", "-") + symbol).pitches
        except Exception:  # music21 refuses in many ways, with its own and Python's errors
            return None
        return {pitch.name.replace("-", "b") for pitch in pitches}

    return read


@pytest.fixture(scope="module")
def pychord_names():
    import pychord

    def read(symbol: str, root: str) -> set[str] | None:
        try:
            return set(pychord.Chord(root + symbol).components())
        except ValueError:
            return None

    return read


@pytest.fixture(scope="module")
def tonal_names():
    words = tonal("tonal_chords.json")
    return lambda symbol, root: set(words[symbol][root]) if symbol in words else None


def name_of(root: str, degree: str) -> str:
    return NoteName(root).up(Interval.of_degree(degree))


def changed(names: set[str], changes: list[str], root: str) -> set[str]:
    """`names` with the listed degrees added and taken away; a change that changes nothing is an error in the table."""
    for change in changes:
        name = name_of(root, change[1:])
        assert (name in names) == (change[0] == "-"), f"{change} says nothing about {sorted(names)}"
        names = names | {name} if change[0] == "+" else names - {name}
    return names


# -- families --------------------------------------------------------------------------------------------------------
def grown_qualities() -> list[tuple[str, str, str]]:
    """(quality, natural tension, the quality that has it too) among those with a third, by their degrees alone.

    Without a third a chord has two names by right: C11 and C9sus4, Csus2add11 and Csus4add9.
    """
    tones = {quality: set(degrees) for quality, degrees in QUALITIES.items() if {"3", "b3"} & set(degrees)}
    return [(one, degree, other) for one in tones for other in tones for degree in ("9", "11", "13")
            if degree not in tones[one] and tones[other] == tones[one] | {degree}]


def test_a_quality_with_the_tension_of_another_is_that_other():
    """A new quality needs its rows in GROWN and SHRUNK: without them one chord would be two, told apart by spelling."""
    assert len(grown_qualities()) >= 11
    for quality, degree, other in grown_qualities():
        assert Chord.parse(f"C{quality}(add{degree})") == Chord.parse(f"C{other}")
        for change in {"9": ("b9", "#9"), "11": ("#11",), "13": ("b13",)}[degree]:
            assert Chord.parse(f"C{other}({change})") == Chord.parse(f"C{quality}({change})"), (quality, other, change)


def test_a_diminished_triad_with_a_major_seventh_is_one_chord():
    """However it is spelled: CmMaj7b5 sounds 1 b3 b5 7, as C°maj7 does."""
    for more in ("", "b9", "#9", "#11", "b13", "add11", "#11b13"):
        assert Chord.parse(f"CmMaj7b5{more}") == Chord.parse(f"CdimMaj7{more}")
    assert Chord.parse("CdimMaj7add9") == Chord.parse("CmMaj9b5")
    assert Chord.parse("CdimMaj7").degrees == Chord.parse("CmMaj7b5").degrees == ("1", "b3", "b5", "7")


# -- the table -------------------------------------------------------------------------------------------------------
def test_the_table_is_large_enough_and_names_each_symbol_once():
    spellings = [symbol for row in SYMBOLS for symbol in row[0].split()]
    assert len(set(spellings)) == len(spellings)
    assert len({row[0].split()[0] for row in SYMBOLS}) >= 150
    assert len({str(Chord.parse(symbol)) for symbol in spellings}) == len(SYMBOLS)
    assert {Chord.parse(symbol).quality for symbol in spellings} == set(QUALITIES)


@pytest.mark.parametrize("row", SYMBOLS, ids=lambda row: row[0].split()[0])
def test_every_spelling_of_a_chord_on_every_root_gives_the_degrees_of_its_row(row):
    for root in ROOTS:
        for symbol in row[0].split():
            chord = Chord.parse(root + symbol[1:])
            assert [tone.degree for tone in chord.tones] == row[1].split()
            assert [tone.name for tone in chord.tones] == [name_of(root, degree) for degree in row[1].split()]


@pytest.mark.parametrize("source", SOURCES)
def test_the_source_spells_each_chord_as_listed_on_every_root(source, request):
    """On every root; of music21, which is slow, on two of them in turn from row to row."""
    read = request.getfixturevalue(f"{source}_names")
    few = source == "music21" and not EXPLORE
    agreed = tried = 0
    for number, row in enumerate(SYMBOLS):
        cell, first = row[SOURCES[source]], row[0].split()[0][1:]
        for root in ROOTS[number % 6 :: 6] if few else ROOTS:
            tried += 1
            ours = set(Chord.parse(root + first).names)
            if cell == "-":
                assert read(first, root) is None, f"{source} now reads {root}{first}"
                continue
            for reading in cell.split(";"):
                writing, *verdict = reading.split()
                theirs = read(writing[1:], root)
                if verdict == ["="]:
                    assert theirs == ours, f"{source} spells {root}{writing[1:]} as {theirs}"
                    agreed += 1
                else:
                    assert verdict[-1] in REASONS
                    assert theirs == changed(ours, verdict[:-1], root), f"{source} {root}{writing[1:]}: {theirs}"
    roots = 2 if few else 12
    assert tried == roots * len(SYMBOLS)
    assert agreed >= roots * {"music21": 169, "pychord": 57, "tonal": 90}[source]


def test_every_row_is_confirmed_by_a_source_or_says_that_none_does():
    for row in SYMBOLS:
        confirmed = any(reading.split()[-1] == "=" for cell in row[2:5] for reading in cell.split(";"))
        assert confirmed != bool(row[5]), row[0]


def test_a_writing_of_the_source_means_the_same_chord_to_us_where_we_read_it():
    for row in SYMBOLS:
        for cell in row[2:5]:
            for reading in cell.split(";"):
                writing = reading.split()[0]
                if writing == "-":
                    continue
                try:
                    names = Chord.parse(writing).names
                except ChordError:
                    continue
                if names[0] != "C":  # music21 writes C(b5) as Cb5, which is C flat's power chord to us
                    assert writing == "Cb5"
                    continue
                assert set(names) == set(Chord.parse(row[0].split()[0]).names), writing


# -- whole vocabularies of the sources -------------------------------------------------------------------------------
def pychord_words() -> dict[str, set[str]]:
    from pychord.constants.qualities import DEFAULT_QUALITIES

    return {word: {name_of("C", degree) for degree in degrees} for word, degrees in DEFAULT_QUALITIES}


def tonal_words() -> dict[str, set[str]]:
    return {word: set(notes["C"]) for word, notes in tonal("tonal_chords.json").items() if " " not in word}


@pytest.mark.parametrize(("source", "words"), [("pychord", pychord_words), ("tonal", tonal_words)])
def test_every_word_of_the_source_is_read_the_same_or_listed(source, words):
    listed = {word: verdict for who, word, verdict, reason in rows("source_words.txt", 4) if who == source and reason}
    found = {}
    for word, notes in words().items():
        if source == "tonal" and word in tonal_full_names():
            continue
        try:
            ours = set(Chord.parse("C" + word).names)
        except ChordError:
            found[word] = "refused"
            continue
        if ours != notes:
            found[word] = " ".join(sorted(notes))
    assert found == listed


def tonal_full_names() -> set[str]:
    """Names such as "augmented" or "fifth": words for people, not symbols after a root."""
    import json

    from support.tables import TABLES

    return {row[0] for row in json.loads((TABLES / "tonal_chords.json").read_text(encoding="utf-8"))["rows"]}


# mir_eval 0.8: Harte's shorthand, 25 qualities as bitmaps over the root. It leaves 9, 11 and 13 out of them.
HARTE = {
    "maj": "", "min": "m", "aug": "aug", "dim": "dim", "sus4": "sus4", "sus2": "sus2", "7": "7", "maj7": "maj7",
    "min7": "m7", "minmaj7": "mMaj7", "maj6": "6", "min6": "m6", "dim7": "dim7", "hdim7": "ø7", "maj9": "maj9",
    "min9": "m9", "9": "9", "min11": "m11", "11": "11", "maj13": "maj13", "min13": "m13", "13": "13", "5": "5",
    "1": "(no3,no5)", "": None,
}


@pytest.mark.parametrize("quality", HARTE)
def test_harte_qualities_sound_the_same(quality):
    from mir_eval import chord as harte

    assert set(HARTE) == set(harte.QUALITIES)
    for root in ROOTS:
        if HARTE[quality] is None:
            assert list(harte.encode("N")[1]) == [0] * 12
            assert NO_CHORD.pitch_classes == frozenset()
            continue
        number, bitmap, _ = harte.encode(f"{root}:{quality}")
        theirs = {int(number + step) % 12 for step, on in enumerate(bitmap) if on}
        chord = Chord.parse(root + str(HARTE[quality]))
        stacked = quality in ("maj9", "min9", "9", "min11", "11", "maj13", "min13", "13")
        ours = {tone.name.pitch_class for tone in chord.tones
                if not (stacked and tone.degree in ("9", "11", "13"))}
        if quality == "11":  # Harte keeps the major 3rd of an 11th chord; here its natural 11th takes its place
            theirs.remove((NoteName(root).pitch_class + 4) % 12)
        assert ours == theirs


# -- slash chords, no chord, printing --------------------------------------------------------------------------------
@pytest.mark.parametrize("bass", ["E", "G", "Bb", "D", "F#", "Db"])
def test_a_slash_names_the_bass_as_in_music21_and_pychord(bass):
    import pychord
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from music21 import harmony
    for symbol in ("C", "Cm7", "C7", "Cmaj7"):
        chord = Chord.parse(f"{symbol}/{bass}")
        assert chord.bass == bass
        assert str(chord) == f"{symbol}/{bass}"
        assert pychord.Chord(f"{symbol}/{bass}").components()[0] == bass
        theirs = harmony.ChordSymbol(f"{symbol}/{bass.replace('b', '-')}")
        assert theirs.bass().name.replace("-", "b") == bass
        assert {pitch.pitchClass for pitch in theirs.pitches} == chord.pitch_classes


def test_a_bass_that_is_the_root_is_no_slash():
    assert Chord.parse("C/C") == Chord.parse("C")


@pytest.mark.parametrize("text", ["N.C.", "NC", "n.c."])
def test_no_chord(text):
    assert Chord.parse(text) == NO_CHORD
    assert (NO_CHORD.root, NO_CHORD.tones, str(NO_CHORD)) == (None, (), "N.C.")


@pytest.mark.parametrize(("text", "pretty"), [  # common practice, no source
    ("Bbm7b5/Eb", "B♭ø7/E♭"), ("F#7#9", "F♯7♯9"), ("Cdim7", "C°7"), ("Abmaj7", "A♭maj7"), ("Gaug", "G+"),
    ("C7b9#11", "C7♭9♯11"), ("Ebb7", "E♭♭7"), ("N.C.", "N.C."),
])
def test_what_people_read(text, pretty):
    assert Chord.parse(text).pretty == pretty
    assert Chord.parse(pretty) == Chord.parse(text)


def test_the_ninth_of_e7_sharp_nine_is_a_double_sharp():  # the design's own example of exact spelling
    tones = {tone.degree: (tone.name, tone.interval) for tone in Chord.parse("E7#9").tones}
    assert tones["#9"] == ("F##", Interval.parse("A9"))


# -- properties ------------------------------------------------------------------------------------------------------
ROOT_NAMES = st.builds(lambda letter, sign: letter + sign, st.sampled_from("ABCDEFG"),
                       st.sampled_from(["", "", "#", "b", "##", "bb"]))
PARENTHESES = ["{}", "({})", "( {} )"]


@st.composite
def symbols(draw):
    quality = draw(st.sampled_from(sorted(READS)))
    words = draw(st.lists(st.sampled_from(sorted(MODIFIER_READS)), max_size=4))
    if draw(st.booleans()) and words:
        body = draw(st.sampled_from(["({})", "( {} )"])).format(draw(st.sampled_from([",", ", ", ""])).join(words))
    else:
        body = "".join(draw(st.sampled_from(PARENTHESES)).format(word) for word in words)
        body = body.replace("( ", "(").replace(" )", ")")
    bass = "/" + draw(ROOT_NAMES) if draw(st.integers(0, 3)) == 0 else ""
    text = draw(ROOT_NAMES) + quality + body + bass
    return text.replace("#", "♯").replace("b", "♭") if draw(st.integers(0, 4)) == 0 else text


@examples(300)
@given(symbols())
def test_printing_reads_back(text):
    try:
        chord = Chord.parse(text)
    except ChordError:
        return  # some combinations are refused ("Cm7sus4"): test_most_combinations_are_read holds that they are few
    assert Chord.parse(str(chord)) == chord
    assert str(Chord.parse(str(chord))) == str(chord)
    assert Chord.parse(chord.pretty) == chord
    assert [tone.name for tone in chord.tones] == list(chord.names)
    assert len(set(chord.names)) == len(chord.names)
    assert all(chord.root.up(tone.interval) == tone.name for tone in chord.tones)


def test_printing_reads_back_for_every_quality_with_up_to_three_modifiers():
    words = sorted({meaning: word for word, meaning in MODIFIER_READS.items()}.values())
    read = 0
    for quality in QUALITIES:
        for count in range(4):
            for chosen in combinations(words, count):
                try:
                    chord = Chord.parse(f"C{quality}" + "".join(f"({word})" for word in chosen))
                except ChordError:
                    continue
                read += 1
                assert Chord.parse(str(chord)) == chord
                assert len(set(chord.names)) == len(chord.names)
    assert read > 20_000


def test_most_combinations_are_read():
    tried = [f"C{quality}({word})" for quality in QUALITIES for word in MODIFIER_READS]
    refused = []
    for text in tried:
        try:
            Chord.parse(text)
        except ChordError:
            refused.append(text)
    assert all("sus" in text for text in refused)  # nothing but a suspension of the wrong chord is refused
    assert len(refused) < len(tried) / 8


@pytest.mark.parametrize("words", [("b9", "#11", "b13"), ("#5", "#9"), ("b5", "b9"), ("#9", "b13", "#11")])
def test_order_and_parentheses_of_alterations_do_not_matter(words):
    found = set()
    for order in permutations(words):
        bracketed = "".join(f"({word})" for word in order)
        found |= {Chord.parse(f"G7{body}") for body in ("".join(order), f"({','.join(order)})", bracketed)}
    assert len(found) == 1


@examples(200)
@given(st.one_of(st.text(max_size=12), st.text("ABCDEFGmajinsud#b♯♭øΔ°+-()/,0123456789 ", max_size=14)))
def test_random_text_raises_nothing_but_our_error(text):
    chord = read_or_refuse(Chord.parse, text)
    assert chord is None or chord is NO_CHORD or chord.tones


@pytest.mark.parametrize("text", [
    "", "H7", "Cfoo", "C7(b9", "C7b9)", "Cm7sus4", "Csus2sus4", "C7/", "C/9", "(C)", "C7,b9"])
def test_what_is_no_chord_is_refused(text):
    with pytest.raises(ChordError, match="“"):
        Chord.parse(text)


@pytest.mark.parametrize(("text", "nearest"), [("am7", "Am7"), ("Cmajj7", "Cmaj7"), ("Gm7b6b", "Gm7b5")])
def test_the_error_offers_the_nearest_symbol(text, nearest):
    with pytest.raises(ChordError, match="did you mean") as caught:
        Chord.parse(text)
    assert nearest in caught.value.nearest
