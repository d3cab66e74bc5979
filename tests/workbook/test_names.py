"""Names in a text: what is a note and what is a word, moved to another key and said in another language."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import pitch as music21_pitch

from theorylib.errors import SpellingError
from theorylib.names.spelling import Interval, NoteName, note_names
from workbook.lesson.names import (
    frets_in,
    in_words,
    names_in,
    renamed,
    renamed_prose,
    string_frets_in,
    with_frets_moved,
)

READ = {  # <…> stands round each name that must be found; all else is words
    "<A> is the 9th of <G>7.": "the note, since a verb follows",
    "A small area. A chord tone. A note that waits": "the article",
    "A list without stops\n\nA walk\n  A run\n- A rest\nrest on <A> walk": "the article at the beginning of a line",
    "(A walk) *A run* “A rest”": "the article after what opens",
    "Rest on <A>. Then <B♭>, <C> and <E-flat>.": "alone or with an accidental",
    "<A> minor pentatonic, <A> blues, <A> natural minor": "a scale follows",
    "**<A>** falls to <G>; <A> and <C> stay.": "in bold, in a list",
    "From <A> to <B>, over <A>.": "inside a sentence no article is a capital",
    "<G>m7–<C>9 in <F> major, <D>ø7 over <E>7♯9/<G#>: (<A>, <C>)": "chords with dashes, basses, brackets",
    "<Ab>maj7, <Bb>7alt/<D>, <F#>m7b5, <C>°, <D>+": "suffixes",
    "the low E string, the open E, the G string": "strings keep their names",
    "Section A, part B, A4 paper": "labels and paper",
    "<A4> is 440 Hz; <C#3>": "pitches",
    "Ebb tide. Do it. Go on. Am I? Add a Build. Dad, Egg, Cab, Bad Edge": "words that look like names",
    "D'oh, don't, it's C's": "apostrophes",
    "Degrees b3 and #9, i7 – V7, 3rd, 7♯9": "degrees and numerals",
    "{= <D>m7b5 over <E>7 gives b7 b9 3 b13 =}": "claims",
}


@pytest.mark.parametrize("text", READ, ids=READ.values())
def test_names_are_told_from_words(text: str) -> None:
    bare = text.replace("<", "").replace(">", "")
    marked = renamed(bare, lambda name: f"<{name}>")
    plain = text.replace("♭", "b").replace("E-flat", "Eb")
    assert marked.replace("♭", "b") == plain


def test_code_stays_as_it_is_typed() -> None:
    text = "Over Bb7 type `| Bb7 | A |` or\n```\nBbmaj7\n```\nand rest on A."
    up = Interval.parse("M2")
    assert renamed_prose(text, lambda name: name.up(up).pretty, lambda name: str(name.up(up))) == (
        "Over C7 type `| C7 | B |` or\n```\nCmaj7\n```\nand rest on B.")
    assert renamed_prose(text, lambda name: name.pretty, None) == text.replace("Over Bb7", "Over B♭7")


def test_a_pitch_keeps_its_octave_right() -> None:
    """B2 and a tone up is C#3: octaves begin at C (scientific pitch)."""
    up = Interval.parse("M2")
    assert renamed("From B2 to A4.", lambda name: name.up(up).pretty) == "From C♯3 to B4."


def test_frets_move_with_the_hand() -> None:
    text = ("Fret 5, frets 5 to 8, frets 5, 7 and 9, position 3, 8 notes; the 5th fret, the fifth position, "
            "string 2 fret 8")
    assert with_frets_moved(text, 2) == ("Fret 7, frets 7 to 10, frets 7, 9 and 11, position 5, 8 notes; the 7th fret, "
                                         "the seventh position, string 2 fret 10")
    assert frets_in("position 3, bars 5 to 8, frets 2–4") == [3, 2, 4]
    assert string_frets_in("the A at string 2 fret 10 and string 3, fret 9") == [(2, 10), (3, 9)]
    assert with_frets_moved("the eleventh fret", 2) == "the 13th fret"
    assert with_frets_moved(text, 0) == text


LETTERS = st.sampled_from("CDEFGAB")
NAMES = st.builds(lambda letter, accidental: NoteName(letter + accidental), LETTERS,
                  st.sampled_from(["", "#", "b", "##", "bb"]))


@given(NAMES)
def test_german_and_solfege_are_what_music21_says(name: NoteName) -> None:
    """music21 (BSD-3): Pitch.german and Pitch.italian; it writes accidentals of the latter in words."""
    theirs = music21_pitch.Pitch(name.replace("b", "-"))
    with note_names("german"):
        assert name.pretty == theirs.german
    words = {"": "", "diesis": "♯", "bemolle": "♭", "doppio diesis": "♯♯", "doppio bemolle": "♭♭"}
    syllable, _, accidental = theirs.italian.partition(" ")
    with note_names("solfege"):
        assert name.pretty == syllable.capitalize() + words[accidental]
    assert name.pretty.isascii() == (len(name) == 1), "English again"


def test_an_unknown_language_is_refused() -> None:
    with pytest.raises(SpellingError, match="did you mean german"), note_names("germann"):
        pass


SUFFIXES = st.sampled_from(["m7", "7", "maj7", "m9", "7b9", ""])


@given(st.lists(st.tuples(NAMES.filter(lambda name: len(name) < 3), SUFFIXES), min_size=1, max_size=5),
       st.integers(-6, 6))
def test_moving_there_and_back_changes_nothing(chords: list[tuple[NoteName, str]], fifths: int) -> None:
    text = "Play " + ", then ".join(name.pretty + suffix for name, suffix in chords) + "."
    interval = Interval.of_fifths(fifths)
    there = renamed(text, lambda name: name.up(interval).pretty)
    assert [one.name for one in names_in(there)] == [name.up(interval) for name, _ in chords]
    assert renamed(there, lambda name: name.up(-interval).pretty) == text


def test_a_move_changes_words_and_no_address() -> None:
    def louder(words: str) -> str:
        return words.upper()

    text = "see ![a](a-b.jpg \"c\") and [d](e.mp3), <img src='f.png' alt='g'> `h](i` ```j](k``` l"
    assert in_words(text, louder) == \
        "SEE ![A](a-b.jpg \"C\") AND [D](e.mp3), <IMG src='f.png' ALT='G'> `H](I` ```J](K``` L"
    moved = in_words("![Am7 grip](Am7.jpg)", lambda words: renamed(words, lambda name: name.up(Interval.parse("M2"))))
    assert moved == "![Bm7 grip](Am7.jpg)"
