"""Sentences say what the analysis says; the musical facts in them are common practice (no source)."""

from __future__ import annotations

import re

from theorylib import Chart, Tuning, harmony
from workbook.cells.telling import bends
from workbook.draw.neck_svg import _open_names
from workbook.lesson import prose
from workbook.lesson.chord_words import chord_notes
from workbook.lesson.chosen import Choices
from workbook.lesson.colours import colour_of, triads_of
from workbook.lesson.derived import bend_area
from workbook.lesson.writing import new_lesson


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
    text = chord_notes(harmony("key: C minor\n| Cm7 | G7#9 |"))[1]
    assert text.startswith("- **G7♯9**: its D lies outside the scale: play it with the arpeggio alone.")
    assert "Colour it with D♭ (♭5), A♭ (♭9) and E♭ (♭13)." in text
    assert "half-whole diminished" in text


def test_what_a_scale_adds_to_the_home_goes_by_the_names_of_the_chord() -> None:
    """G altered is G A flat B flat B D flat E flat F (typed): to C minor's C D E flat F G A flat B flat it adds two."""
    read = harmony("key: C minor\n| Cm7 | G7alt |")
    (text,) = chord_notes(read, [read.chords[1]], against_home=True)
    assert text.startswith("- **G7alt** (bar 2): B (3) and D♭ (♭5) are new against the home. A♭ (♭9), which the home ")
    read = harmony("key: E minor\n| Em9 | B7alt |")  # D sharp is the chord's 3rd, which its scale spells E flat
    (text,) = chord_notes(read, [read.chords[1]], against_home=True)
    assert text.startswith("- **B7alt** (bar 2): D♯ (3) and F (♭5) are new against the home.")


def test_a_chord_with_two_scales_is_told_with_its_bars() -> None:
    found = chord_notes(harmony("| Cmaj7 | Dm7 G7 | Cmaj7 | % | Fm7 | Bb7 | Ebmaj7 | Fm7 Dm7b5 | G7 | Cm7 | Dm7 G7 |"))
    heads = [line.split(":")[0] for line in found]
    assert len(set(heads)) == len(heads)


def test_a_double_accidental_is_said_with_what_it_sounds_as() -> None:
    """F double sharp is G, C double sharp and E double flat are D (equal temperament, ISO 16)."""
    assert prose.sounding(harmony("key: A minor\n| Am7 | E7#9 |")) == "In the table F♯♯ sounds as G."
    assert prose.sounding(harmony("| Ab7 | Db7 | Ab7 | B7#9 |")) == (
        "E♭♭ sounds as D. In the table C♯♯ sounds as D.")
    assert prose.sounding(harmony("| Am7 | D7 |")) == ""
    assert "C♯♯ (7, sounds as D)" in chord_notes(harmony("| A7 | D7 | A7 | % | D7 | D#dim7 | A7 | E7 |"))[2]


def test_why_a_note_is_passed_through_is_said_once() -> None:
    text = " ".join(chord_notes(harmony("key: E major\n| Emaj7 | C#m7 | F#m7 | B13 |")))
    assert text.count("a half step above a chord tone") == 1
    assert "ass through A, a half step above a chord tone, without resting there." in text
    assert "ass through A. " in text


def test_a_power_chord_takes_no_scale_of_its_own() -> None:
    """D natural minor has A over F5, which is F major's 3rd, and no C sharp over A5, whose 3rd there is C."""
    found = chord_notes(harmony("key: D minor\n| D5 | F5 | A5 |"))
    assert found[1] == "- **F5**: its 3rd in the home is A: whoever plays it makes the chord bright."
    assert found[2] == "- **A5**: its 3rd in the home is C: whoever plays it makes the chord dark."


def test_a_lesson_over_power_chords_shows_the_home_scale_alone() -> None:
    chart = Chart.parse("key: D minor\n| D5 | F5 | C5 | A5 |")
    assert {row[3] for row in prose.harmony_rows(harmony(chart))} == {"D natural minor"}
    cells = {cell["id"] for cell in new_lesson(chart, Choices("Any", kind="rock"))["cells"]}
    assert "neck" not in cells
    assert "area" in cells


def test_a_triad_on_top_is_one_of_the_key() -> None:
    """Over A7 as the V of D minor: the notes of its triads lie in D harmonic minor (typed by hand)."""
    harmonic_minor = {2, 4, 5, 7, 9, 10, 1}
    for up in range(12):
        found = dict(triads_of(Chart.parse("key: D minor\n| Dm7 | Gm7 | A7 | Dm7 |").transpose(up)))
        one = found[next(chord for chord in found if chord.is_dominant)]
        assert {(name.pitch_class - up) % 12 for name in one.arpeggio.names} <= harmonic_minor


def test_no_triad_on_top_leaves_the_key_where_the_key_has_one() -> None:
    """F sharp major from C up is 6 8 10 11 1 3 5 (typed by hand); over its vi a natural 13th would be a stranger."""
    for up in range(12):
        chart = Chart.parse("key: F# major\n| F#maj9 | D#m11 | Bmaj7 | C#7 |").transpose(up)
        for chord, one in triads_of(chart):
            assert {(name.pitch_class - up) % 12 for name in one.arpeggio.names} <= {6, 8, 10, 11, 1, 3, 5}, chord


def test_a_power_chord_is_coloured_from_its_key_alone() -> None:
    """E natural minor has 4 6 7 9 11 0 2 semitones above C (typed by hand)."""
    for up in range(12):
        for one in colour_of(Chart.parse("| E5 | D5 | C5 | D5 B5 |").transpose(up)).found:
            assert {(name.pitch_class - up) % 12 for name in one.arpeggio.names} <= {4, 6, 7, 9, 11, 0, 2}


def test_a_beginner_reads_what_the_bass_has() -> None:
    cells = new_lesson(Chart.parse("| Dm | Dm/C | Bb | A7 |"), Choices("Any", level="beginner"))["cells"]
    tones = next("".join(cell["source"]) for cell in cells if cell["id"] == "tones")
    assert "| 2 | **Dm/C** | D (1) · F (♭3) · A (5) · over C |" in tones


def test_two_names_of_the_same_notes_are_said_to_be_so() -> None:
    read = harmony("| Em7 | G6 |")
    assert prose.moves(read.chords[0], read.chords[1].chord) == (
        "From Em7 to G6 every note stays: they are the same notes, and the bass alone tells which chord it is.")


def test_moves_in_words() -> None:
    read = harmony("Dm7 | G7")
    assert prose.moves(read.chords[0], read.chords[1].chord) == (
        "From Dm7 to G7: D and F stay, A falls a whole step to G and C falls a half step to B.")


def test_a_note_that_stays_is_called_as_the_next_chord_calls_it_too() -> None:
    """E sharp is F, B sharp is C (equal temperament, ISO 16)."""
    read = harmony("key: D minor\n| Bbmaj7 | A7alt | Dm7 |").chords
    assert ": F (as E♯) and A stay, " in prose.moves(read[0], read[1].chord)
    assert ": A, E♯ (as F) and B♯ (as C) stay, " in prose.moves(read[1], read[2].chord)


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


# -- many charts in several keys ---------------------------------------------------------------------------------------
MANY = (
    "| Dbmaj7 Bbm7 | Ebm7 Ab7#9 | Fm7 Bb7b9 | Ebm7 D7 |", "| Ebm7 | Gbm7 | Cbmaj7 | Bb7alt |", "| D/F# | E7b9 | Am7 |",
    "| Dmaj7 | D#dim7 | Em7 | A7/C# A7b9 | F#m7b5 B7b9 | Em7 Eb7 |", "key: G phrygian\n| Gm | Abmaj7 | Gm | Fm7 |",
    "| Ab7 | Db7 | Ab7 | Ab7/Gb | Db7 | Ddim7 | Ab7 | Fm7 | Bbm7 | Eb7#9 | Ab7 F7b9 | Bbm7 A7 |",
    "| Emaj7 | F#/E |", "| Am7 | F7 | Dm7 G7sus4 | E7#9 |", "| C#m7 | F#m7 | D#m7b5 | G#7b13 |",
)
READ = [harmony(Chart.parse(changes).transpose(up)) for changes in MANY for up in (0, 1, 6)]
_NOTE = "[A-G][♯♭]{0,2}"


def test_what_lies_outside_the_home_is_read_once() -> None:
    """Each stranger stands with its chords, and an “and” joins only notes or only chords."""
    told = 0
    for read in READ:
        for sentence in prose.steps_out(read):
            assert "other chord" not in sentence or "other chords" in sentence
            body = re.sub(r"(; | and )notes in \w+ other chords", "", sentence)
            body = body.removesuffix(".").split(" lie ")[-1].split(" lies ")[-1]
            parts = body.split("; ") if ";" in body else re.split(r", | and (?=\S+ in )", body)
            for part in parts:
                notes, of = part.split(" in ")
                assert re.fullmatch(rf"{_NOTE}(, {_NOTE})*( and {_NOTE})?", notes), sentence
                assert set(re.split(r", | and ", of)) <= {one.chord.pretty for one in read.chords}, sentence
                told += 1
    assert told > 30


def test_an_item_names_no_note_twice_and_says_what_each_sounds_as_once() -> None:
    doubles = 0
    for read in READ:
        home, leaving = prose.sounding(read), [one for one in prose.readings(read) if one.scale != one.home]
        said = [home]
        for item in [*chord_notes(read), "", *chord_notes(read, leaving, against_home=True)]:
            if not item:  # the other level's words begin
                said = [home]
                continue
            words = item.split(": ", 1)[1].split("ther choice")[0]
            with_degree = re.findall(rf"({_NOTE}) \((?:♯|♭)*\d", words)
            assert len(with_degree) == len(set(with_degree)), item
            said += [item]
            for name in re.findall(rf"({_NOTE}) \(", words):
                if len(name) == 3:
                    doubles += 1
                    told = [one for one in said if re.search(rf"{name} (\([^)]*)?(sounds )?as [A-G]", one)]
                    assert len(told) == 1, (name, said)
            assert "(" not in "".join(re.findall(r"\(([^)]*)\)", words)), item
        assert len(set(re.findall(rf"({_NOTE}) (?:sounds )?as", home))) == len(re.findall(r"\bas\b", home))
    assert doubles


def test_the_bass_is_no_colour_and_a_held_back_third_is_none() -> None:
    """F sharp major over E is F sharp 7 in its third inversion; G7sus4 holds B back (common practice, no source)."""
    (slash,) = (item for item in chord_notes(harmony("| Emaj7 | F#/E |")) if "F♯/E" in item)
    assert slash.startswith("- **F♯/E**: its ♭7 is in the bass. Colour it with G♯ (2) and D♯ (6). Pass through B")
    assert "A7/C♯ has its 3 in the bass." in chord_notes(harmony("| A7 | A7/C# | D |"))[0]
    (sus,) = (item for item in chord_notes(harmony("| Am7 | F7 | Dm7 G7sus4 | E7#9 |")) if "sus" in item)
    assert sus == "- **G7sus4**: colour it with A (9) and E (13). Its 4th wants to go on to B (3)."


def test_the_second_of_a_phrygian_home_is_its_sound() -> None:
    """G phrygian is G A flat B flat C D E flat F (typed); its A flat is what one listens for (common practice)."""
    found = chord_notes(harmony("key: G phrygian\n| Gm | Abmaj7 | Gm | Fm7 |"))
    assert found[0] == (
        "- **Gm**: colour it with C (4) and F (♭7). A♭ (♭2) is the sound of G phrygian: let it fall to G. "
        "Pass through E♭, a half step above a chord tone, without resting there.")
    assert not any("the sound of" in item for item in chord_notes(harmony("key: G minor\n| Gm | Abmaj7 | Gm |")))


def test_a_second_in_the_place_of_a_third_and_the_names_of_bends_and_strings() -> None:
    """G sharp is the 3rd of E, C flat the minor 3rd of A flat; two frets up B E A D are C sharp F sharp B E (typed)."""
    assert "Its 2nd wants to go on to G♯ (3)." in chord_notes(harmony("| Esus2 | Amaj9 | B9sus4 | C#m7 G#7#5 |"))[0]
    assert "The ♭3 (C♭) at" in str(bends(bend_area("Ab7", 4, "advanced"), over="Ab7"))
    assert [str(name) for name in _open_names(Tuning.parse("standard", 2))] == ["F#", "C#", "A", "E", "B", "F#"]
