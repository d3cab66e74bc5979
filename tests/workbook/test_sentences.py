"""Teachers' prose: what contradicts its lesson is found, what speaks of other things is left in peace."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from functools import cache

import pytest
from support.tables import TABLES

from theorylib.changes.charts import Chart
from theorylib.names.chords import Chord
from theorylib.names.scales import Scale
from theorylib.names.spelling import plain
from theorylib.necks.tunings import Tuning
from workbook.checking.prose.facts import Facts, facts_about
from workbook.checking.prose.judge import contradictions

# What is so in the lessons of the table, typed from their charts and choices.
TRUE = (
    ("pair", "When the D9 comes, lean on its F#."), ("pair", "Stay in position 5: the first finger belongs to fret 5."),
    ("pair", "The track runs at 92."), ("pair", "Everything in this lesson comes from A dorian."),
    ("pair", "Breathe in bar 2."), ("pair", "The changes are Am7 and D9."), ("pair", "The key is A minor."),
    ("pair", "This two-bar loop goes round."), ("pair", "At 73 bpm it is easy."),
    ("stairs", "From Fm9 to Dm7b5 the hand moves."), ("stairs", "The key of this lesson is C minor."),
    ("stairs", "Rest before the B section."), ("stairs", "The second bar is Cm7/Bb."),
    ("stairs", "The Fm9 in bar 4 is dark."), ("stairs", "G7#9 takes G altered."), ("stairs", "G7 leads home."),
    ("oven", "Bar 9 is E7."), ("oven", "Learn the twelve-bar form by heart."), ("oven", "Feel the shuffle here."),
    ("oven", "We are in 4/4 here."), ("oven", "Solo with A minor pentatonic."),
    ("tide", "The guitar is in drop D tuning."), ("tide", "Let the low D string ring."),
    ("tide", "The riff goes D5, F5, G5, D5 and C5."),
    ("kiln", "Start on string 7."), ("kiln", "All seven strings are in use."), ("kiln", "Four bars of 4/4."),
    ("kiln", "The loop ends on F#7."), ("kiln", "Learn the four chords of it."),
    ("lantern", "Put the capo at fret 2."), ("lantern", "Leave beat 3 empty."),
    ("lantern", "The loop begins on Gmaj7."),
    ("dock", "Keep the G string quiet."), ("dock", "The home scale is E dorian."), ("dock", "Use the 4th string."),
    ("ballad", "Play the verse twice, then the bridge."), ("ballad", "In the bridge the F/A should sound."),
    ("ballad", "We are in 6/8 here."),
)
PARTS = ("written before the rules", "written after the rules, read once", "a second time after the rules, read once")

MISSED = ("This eight-bar riff has no turnaround.",)


@cache
def lessons() -> dict[str, Facts]:
    rows = tomllib.loads((TABLES / "prose_lessons.toml").read_text(encoding="utf-8"))
    return {name: facts_about([Chart.parse(row["chart"])], tuning=Tuning.parse(row.get("tuning", "standard")),
                              positions=row["positions"], tempos=row["plan"],
                              shown=map(Scale.parse, row.get("scales", ())))
            for name, row in rows.items()}


def sentences(name: str, columns: int) -> dict[str, list[list[str]]]:
    """The rows of a table by the part that they stand in; only the last cell may hold "|"."""
    parts: dict[str, list[list[str]]] = {}
    for line in (TABLES / name).read_text(encoding="utf-8").splitlines():
        if line.startswith("= "):
            parts[line[2:]] = []
        elif line and not line.startswith("#"):
            cells = [cell.strip() for cell in line.split("|", columns - 1)]
            parts[list(parts)[-1]].append([*cells[:-1], cells[-1].replace("\\n", "\n")])
    return parts


def alarms(part: str) -> list[tuple[str, str, str]]:
    return [(lesson, text, one.words) for lesson, text in sentences("prose_elsewhere.txt", 2).get(part, [])
            for one in contradictions(text, lessons()[lesson]).contradictions]


def missed(part: str) -> list[tuple[str, str]]:
    """The contradictions of which no finding names the words at fault."""
    return [(words, text) for lesson, _, words, text in sentences("prose_contradicts.txt", 4).get(part, [])
            if not any(words in plain(one.words) or plain(one.words) in words
                       for one in contradictions(text, lessons()[lesson]).contradictions)]


@pytest.mark.parametrize("part", PARTS)
def test_the_tables_are_whole(part: str) -> None:
    """Forty of each, over at least six lessons in several keys, meters and tunings; none written twice."""
    elsewhere, contradicting = sentences("prose_elsewhere.txt", 2)[part], sentences("prose_contradicts.txt", 4)[part]
    assert len(elsewhere) == len(contradicting) == 40
    assert len({lesson for lesson, *_ in contradicting}) >= 6
    assert len({text for *_, text in elsewhere + contradicting}) == 80
    assert [words for _, _, words, text in contradicting if words not in plain(text)] == []


def test_the_lessons_are_of_several_kinds() -> None:
    facts = lessons().values()
    assert len({one.homes[0] for one in facts}) >= 6
    assert len({one.charts[0].meter for one in facts}) >= 3
    assert {len(one.tuning.strings) for one in facts} == {4, 6, 7}


@pytest.mark.parametrize("part", PARTS)
def test_what_speaks_of_other_things_is_left_in_peace(part: str) -> None:
    assert alarms(part) == []


@pytest.mark.parametrize("part", PARTS)
def test_what_contradicts_is_found(part: str) -> None:
    """At least 36 of 40 are asked for; as things stand one is missed, since a riff may be shorter than the changes."""
    there = {text for *_, text in sentences("prose_contradicts.txt", 4)[part]}
    assert {text for _, text in missed(part)} == there.intersection(MISSED)


def pages() -> dict[str, str]:
    """lesson: a page of prose."""
    opened = (TABLES / "prose_pages.txt").read_text(encoding="utf-8").split("\n@ ")[1:]
    return {lesson: text for lesson, _, text in (page.partition("\n") for page in opened)}


@pytest.mark.parametrize("lesson", pages())
def test_whole_pages_are_left_in_peace(lesson: str) -> None:
    judged = contradictions(pages()[lesson], lessons()[lesson])
    assert [(one.words, one.sentence) for one in judged.contradictions] == []
    assert judged.sentences > 10
    assert judged.judged >= 2


@pytest.mark.parametrize("lesson", pages())
def test_a_page_is_belied_by_the_lesson_in_another_key(lesson: str) -> None:
    """The changes go up a tone, and the words stay as they were."""
    facts = lessons()[lesson]
    moved = facts_about([chart.transpose(2) for chart in facts.charts], tuning=facts.tuning,
                        positions=[position + 2 for position in facts.positions], tempos=facts.tempos)
    found = contradictions(pages()[lesson], moved).contradictions
    assert len({one.sentence for one in found}) >= 2


def test_a_lesson_is_not_belied_by_what_is_so() -> None:
    """The same sentences with the true words in the place of the false ones, typed from the lessons' own charts."""
    for lesson, text in TRUE:
        judged = contradictions(text, lessons()[lesson])
        assert (judged.contradictions, judged.judged) == ((), 1), text


@pytest.mark.parametrize(("lesson", "text", "right"), [
    ("pair", "When the Dm7 comes, wait.", "the changes hold Am7 and D9"),
    ("pair", "The home scale is A dorian.\nThe tempo is 120.", "the tempo is ♩ = 92"),
    ("pair", "We stay in position 9.", "the lesson lies in position 5"),
    ("stairs", "The Fm9 in bar 3 is bright.", "bar 3 holds A♭maj7"),
    ("stairs", "The home scale is C dorian.", "the home scale is C natural minor"),
    ("stairs", "G7#9 takes G mixolydian.", "G7♯9 takes G altered"),
    ("pair", "**Em7** takes **A dorian**.", "the changes hold Am7 and D9"),
    ("pair", "*Level: beginner · shuffle · home scale A dorian*", "the feel is straight 16"),
    ("pair", "*♩ = 92 · home scale E dorian*", "the home scale is A dorian"),
    ("oven", "*Level: beginner · a twelve-bar blues in G*", "the key is A major"),
    ("oven", "Use the blues scale of C.", "the home scale is A blues"),
    ("stairs", "Rest before the C section.", "the chart's sections are A and B"),
    ("stairs", "The loop ends on Fm9.", "the changes end with G7♯9"),
    ("oven", "Learn the sixteen-bar form.", "the changes have twelve bars"),
    ("oven", "Keep the swing 16 feel here.", "the feel is shuffle"),
    ("tide", "Tap the low E string.", "the strings are D A D G B E"),
    ("tide", "Tune to open G.", "the tuning is drop D"),
    ("tide", "It lies at fret 25.", "the last fret is 22"),
    ("kiln", "Start on string 8.", "the neck has seven strings, B E A D G B E"),
    ("lantern", "Put the capo at fret 4.", "the capo is at fret 2"),
    ("lantern", "It lies at fret 21.", "the last fret is 20 above the capo"),
    ("dock", "There is nothing in bar 6 but the bass.", "the changes have four bars"),
    ("ballad", "The meter is 3/4.", "the meter is 6/8"),
])
def test_a_finding_says_what_would_be_true(lesson: str, text: str, right: str) -> None:
    (found,) = contradictions(text, lessons()[lesson]).contradictions
    assert found.right == right
    assert found.words in text
    assert text.split("\n")[found.line - 1].count(found.words) == 1
    assert found.words in found.message
    assert found.sentence in found.message


def test_a_finding_names_its_line() -> None:
    text = "## Am7\n\nA word.\n\n- Am7 first,\n  and **Dm7** next. Now\n  the Bb7.\n\n```\nEm7\n```\nThe Gm7."
    found = contradictions(text, lessons()["pair"]).contradictions
    assert [(one.line, one.words) for one in found] == [(6, "Dm7"), (7, "Bb7"), (12, "Gm7")]


@pytest.mark.parametrize(("chord", "named"), [
    ("Am7", "Am7 Am C6"), ("E7#9", "E7#9 E7 E"), ("C#7alt", "C#7alt C#7"), ("Am7b5", "Am7b5 Adim"),
    ("Cm7/Bb", "Cm7/Bb Cm7"), ("D5", "D5"), ("F/A", "F/A F"), ("Gsus4", "Gsus4"), ("Cmaj9", "Cmaj7 C"),
])
def test_a_chord_goes_by_its_plainer_names(chord: str, named: str) -> None:
    """Common practice, no source: what a teacher may call a chord of the chart, and what not."""
    facts = facts_about([Chart.parse(f"| {chord} |")])
    others = ("Am7 Am E7#9 E7 E C#7alt C#7 Am7b5 Adim Cm7/Bb Cm7/G Cm7 D5 D Dm F/A F/C F Gsus4 G Gm Cmaj7 C C7 C6 "
              "Em7 C#m7 A7")
    assert {one for one in others.split(" ") if facts.holds(Chord.parse(one))} == set(named.split())


def test_a_repeat_counts_as_written_and_as_played() -> None:
    facts = facts_about([Chart.parse("|: Am7 | D9 | Em7 :|")])
    lengths = {one for one in range(1, 9)
               if not contradictions(f"This {one}-bar loop is short.", facts).contradictions}
    assert lengths == {3, 6}
    bars = {one for one in range(1, 9) if not contradictions(f"Wait in bar {one}.", facts).contradictions}
    assert bars == {1, 2, 3, 4, 5, 6}


@pytest.mark.parametrize(("text", "alarms"), [
    ("Use the Bbm7 shape two frets up.", 0), ("Play a Bb triad over the first chord.", 0),
    ("The Bbm7 arpeggio comes next.", 1), ("Over the D9 play a Bbm7 arpeggio.", 0), ("The Em7 arpeggio comes next.", 0),
    ("Take another grip, e.g. one of Em7, and rest.", 0), ("The Em7 is next, not the Am7.", 1),
    ("It is here that Am7, e.g. its b3, sings.", 0), ("A Bbm7 is sad.", 0), ("This loop has a Bbm7.", 1),
    ("The changes are Am7 and E7; later there will be more.", 1), ("Later, the changes will be Am7 and E7.", 0),
    ("The Am9 is the Am7 with one note more.", 0), ("The Am9 comes next.", 1),
    ("A bar of 4/4 is a bar of 3/4 and a beat.", 0), ("A bar of 3/4 is short.", 1), ("Use A mixolydian.", 1),
    ("The band plays it at 140 bpm.", 1), ("## Two bars in C minor", 1),
    ("## Two bars in A minor", 0), ("## Next week: C minor", 0), ("C minor is sad.", 0),
    ("Four beats to the bar.", 0), ("Three beats to the bar.", 1), ("Leave out beat 5.", 1),
])
def test_the_rules_one_by_one(text: str, alarms: int) -> None:
    assert len(contradictions(text, lessons()["pair"]).contradictions) == alarms


def test_an_article_is_no_string() -> None:
    facts = facts_about([Chart.parse("| Am7 |")], tuning=Tuning.parse("half step down"))
    assert contradictions("Hear it. A string that rings too long is damped.", facts).contradictions == ()
    assert len(contradictions("Damp the A string.", facts).contradictions) == 1


def test_short_forms_end_no_sentence() -> None:
    judged = contradictions("Rest, e.g. on bar 2. Sing (cf. the 3rd) in bars 1 vs. 2. Go.", lessons()["pair"])
    assert judged.sentences == 3


def test_words_are_quoted_as_they_were_typed() -> None:
    (found,) = contradictions("Then the **E♭m7** comes.", lessons()["pair"]).contradictions
    assert (found.words, found.sentence) == ("E♭m7", "Then the E♭m7 comes.")


def test_a_heading_keeps_its_sharp() -> None:
    (found,) = contradictions("## Over A/C# ##", lessons()["pair"]).contradictions
    assert found.words == "A/C#"


def test_of_many_chords_the_nearest_are_named() -> None:
    chart = Chart.parse("| Cm7 | F7 | Bbmaj7 | Ebmaj7 | Am7b5 | D7 | Gm7 | C7 | Abm7 | Db7 |")
    (found,) = contradictions("Then the Dm7 comes.", facts_about([chart])).contradictions
    assert found.right == "of the 10 chords of the changes the nearest are D7, D♭7 and Cm7"


@pytest.mark.parametrize("hidden", [
    "`Dm7`", "```\nthe Dm7\n```", "“the Dm7”", '"the Dm7"', "[the Dm7](https://example.org)", "{= Dm7 has D F A C =}",
    "| Dm7 | G7 |\n|---|---|", "> the Dm7", "<!-- the Dm7 -->", "![the Dm7](data:,)", "$Dm7$", "the E4 above D4",
    "A chord tone", "A string that rings", "F# of D9, C of Am7", "the Dm", "the Am chord", "the 3 of D9",
    "ii7 – V7 is Am7 – D9", "the A and the E", "the D string", "on A4 paper",
])
def test_what_is_no_name_of_a_chord_is_left_out(hidden: str) -> None:
    text = f"Listen: {hidden}" if "\n" not in hidden and hidden[0] not in "|>A" else hidden
    wrong = {one.words for one in contradictions(text, lessons()["pair"]).contradictions}
    assert wrong == ({"Dm"} if hidden == "the Dm" else set())


def test_what_cannot_be_judged_is_counted() -> None:
    judged = contradictions("# Pair\n\nPlay softly. The Am7 is home. Compare Em7.\n\n- Breathe.", lessons()["pair"])
    assert (judged.sentences, judged.judged, judged.unjudged) == (5, 1, 4)


def test_a_hand_is_judged_where_it_is_known() -> None:
    chart = Chart.parse("| Am7 | D9 |")
    text = "The left hand holds the chord. The right hand picks."
    assert contradictions(text, facts_about([chart])).contradictions == ()
    assert contradictions(text, replace(facts_about([chart]), hand="left")).contradictions == ()
    found = contradictions(text, replace(facts_about([chart]), hand="right")).contradictions
    assert [one.right for one in found] == ["say the fretting hand", "say the picking hand"]


def test_a_name_once_explained_stays_so() -> None:
    facts = lessons()["pair"]
    text = "Compare it with Em7. There the 9 is F#. Em7 has it too."
    assert contradictions(text, facts).contradictions == ()
    assert len(contradictions("Em7 has it too.", facts).contradictions) == 1
