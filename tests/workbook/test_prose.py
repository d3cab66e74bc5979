"""Sentences say what the analysis says; the musical facts in them are common practice (no source)."""

from __future__ import annotations

from theorylib import Chart, harmony
from workbook.lesson import prose


def test_one_home_is_said_with_its_parent() -> None:
    text = prose.homes(harmony("Bm7 | E9"))
    assert "**B dorian**, 2nd mode of A major, so the pair is also ii–V of A major" in text
    assert "B C♯ D E F♯ G♯ A" in text


def test_several_homes_are_said_with_their_bars() -> None:
    text = prose.homes(harmony("Cmaj7 | Dm7 G7 | Cmaj7 | % | Fm7 | Bb7 | Ebmaj7 | % | Fm7 | Bb7 | Ebmaj7 | %"))
    assert text.startswith("The changes pass through two home scales: from bar 1 **C major**")
    assert "from bar 5 **E♭ major**" in text


def test_numerals_are_read_in_their_key() -> None:
    assert prose.numerals(harmony("Bm7 | E9")) == "In B minor, Bm7 – E9 reads i7 – IV9."


def test_an_altered_dominant_is_explained() -> None:
    reading = harmony("key: C minor\n| Cm7 | G7#9 |").chords[1]
    text = prose.chord_paragraph(reading)
    assert "**G7♯9** takes **G altered** (7th mode of A♭ melodic minor)." in text
    assert "G (1), B (3), D (5), F (♭7), A♯ (♯9)" in text
    assert "Its D lies outside that scale" in text
    assert "half-whole diminished" in text


def test_moves_in_words() -> None:
    read = harmony("Dm7 | G7")
    assert prose.moves(read.chords[0], read.chords[1].chord) == (
        "From Dm7 to G7: D and F stay, A falls a whole step to G and C falls a half step to B.")


def test_each_chord_stands_once_in_the_table_with_its_bars() -> None:
    rows = prose.harmony_rows(harmony(Chart.parse("|: Am7 | D7 :| x3\n| Am7 | Am7 |")))
    assert [row[:2] for row in rows] == [("1, 3, 5, 7–8", "Am7"), ("2, 4, 6", "D7")]
    table = prose.harmony_table(harmony("Am7 | D7")).splitlines()
    assert {line.count("|") for line in table} == {7}


def test_small_words() -> None:
    assert [prose.ordinal(count) for count in (1, 2, 3, 4, 11, 12, 13, 21, 22)] == [
        "1st", "2nd", "3rd", "4th", "11th", "12th", "13th", "21st", "22nd"]
    assert prose.listed([]) == ""
    assert prose.listed("a") == "a"
    assert prose.listed("abc") == "a, b and c"
    assert prose.number(12) == "twelve"
    assert prose.number(13) == "13"
