"""Every door through which text comes in, with texts that it takes: what attacks pump, break and mix."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

from support.lab import ROOT
from support.short import short_lesson

from theorylib.changes.charts import Chart
from theorylib.changes.meters import Meter, read_feel
from theorylib.claims import judge, marked, unmarked, without_marks
from theorylib.names.chords import Chord
from theorylib.names.naming import names_of
from theorylib.names.scales import Scale
from theorylib.names.spelling import Interval, NoteName, Pitch
from theorylib.necks.tunings import Tuning
from theorylib.playing.lines import Line
from theorylib.practice.outline import read_outline
from theorylib.practice.phrases import read_contour, read_rhythm
from theorylib.practice.sequences import read_pattern
from theorylib.practice.touch import beat_of
from workbook.checking.prose.facts import facts_about
from workbook.checking.prose.judge import contradictions
from workbook.checking.said import check_said
from workbook.checking.truth import check_truth
from workbook.checking.usable import check_usable
from workbook.exchange.music_files import line_of_text, read_music
from workbook.exchange.musicxml import musicxml_text
from workbook.exchange.passages import Passage
from workbook.files import slug
from workbook.handouts.tree import markdown_blocks, plain_text
from workbook.lesson.lesson import Lesson
from workbook.lesson.names import frets_in, names_in, renamed_prose, string_frets_in, with_frets_moved
from workbook.library.course import check_course, read_course
from workbook.library.moving import Target, all_keys, moved
from workbook.library.personal import read_roster, read_tempos, student_of
from workbook.media.grid_text import read_bars
from workbook.mimes import LINE_MIME
from workbook.play.arrangement import chorus_words
from workbook.play.drum_map import read_drum_map
from workbook.play.kept import read_kept
from workbook.play.style_text import read_style

LESSON = ROOT / "lessons" / "slack-water.ipynb"


@dataclass(frozen=True, slots=True)
class Door:
    """Something that takes a text, and some texts that it takes; `slow` doors are tried less often."""

    enter: Callable[[str], Any]
    takes: tuple[str, ...]
    slow: bool = False


@cache
def _folder() -> Path:
    return Path(tempfile.mkdtemp(prefix="vampbook-doors-"))


def _in_file(name: str, read: Callable[[Path], Any]) -> Callable[[str], Any]:
    def enter(text: str) -> Any:
        path = _folder() / name
        path.write_bytes(text.encode("utf-8", "surrogatepass"))
        return read(path)
    return enter


@cache
def _stored() -> str:
    return short_lesson()


def lesson(prose: str = "", code: str = "", **about: Any) -> dict[str, Any]:
    """A run lesson with more prose, more code or other metadata."""
    notebook = json.loads(_stored())
    notebook["metadata"]["vampbook"].update(about)
    if prose:
        notebook["cells"].append({"cell_type": "markdown", "id": "more", "metadata": {}, "source": prose})
    if code:
        notebook["cells"].append({"cell_type": "code", "id": "code", "metadata": {}, "source": code, "outputs": [],
                                  "execution_count": None})
    return notebook


def _claims(text: str) -> None:
    for mark in (*marked(text), *unmarked(text)):
        assert mark[0] >= 1
    without_marks(text)


def _names(text: str) -> None:
    list(names_in(text))
    renamed_prose(text, lambda name: name.pretty, str)
    frets_in(text)
    with_frets_moved(text, 2)
    string_frets_in(text)


def _prose(text: str) -> None:
    """A cell of a lesson: checked for truth and use, and moved to another key."""
    notebook = lesson(text)
    one = Lesson.of(notebook)
    check_truth(one)
    check_said(one)
    check_usable(one, builds=False)
    moved(notebook, Target(key="A"), 0)


def _code(text: str) -> None:
    moved(lesson(code=text), Target(key="A"), 2)
    moved(lesson(code=f"x = {text!r}"), Target(key="A"), 2)


def _about(word: str) -> Callable[[str], None]:
    def enter(text: str) -> None:
        notebook = lesson(**{word: text})
        one = Lesson.of(notebook, LESSON)
        _ = one.about.tempo_bpm, one.title
        check_usable(one, builds=False)
        all_keys(notebook)
        moved(notebook, Target(key="A"), 0)
    return enter


def _course(path: Path) -> None:
    (path.parent / "a.ipynb").touch()
    (path.parent / "b.ipynb").touch()
    assert check_course(path.parent) is not None
    read_course(path.parent)


def _markdown(text: str) -> None:
    for block in markdown_blocks(text):
        plain_text(block.get("c", ()) if block["t"] != "list" else ())


def line_text() -> str:
    """The first line that the lesson stores."""
    for cell in json.loads(_stored())["cells"]:
        for output in cell.get("outputs", ()):
            if LINE_MIME in output.get("data", {}):
                stored = output["data"][LINE_MIME]
                return stored if isinstance(stored, str) else "".join(stored)
    raise AssertionError("the lesson stores no line")


def _line(text: str) -> None:
    line = Line.from_json(text)
    assert line.problems() is not None


def _student(column: str) -> Callable[[str], Any]:
    return lambda text: student_of({"name": "Ada", column: text}, "here")


_CHART = Chart.parse("title: Low tide\nkey: G minor\n[A] |: Gm7 | C9 / F7 / :|\n[B] |: Cm7 |1. % :|2. Am7b5 D7#9 ||")
_MUSICXML = musicxml_text([Line.from_json(line_text())], title="Drill")
_FOREIGN = """<?xml version="1.0" encoding="UTF-8"?>
<score-partwise><part-list><score-part id="P1"><part-name>Tune</part-name></score-part></part-list><part id="P1">
<measure number="1"><attributes><divisions>2</divisions><key><fifths>-1</fifths></key><time><beats>4</beats>
<beat-type>4</beat-type></time></attributes><harmony><root><root-step>D</root-step></root><kind>minor</kind></harmony>
<note><pitch><step>A</step><octave>3</octave></pitch><duration>4</duration><tie type="start"/></note>
<note><pitch><step>A</step><octave>3</octave></pitch><duration>1</duration><tie type="stop"/></note>
<note><chord/><pitch><step>F</step><alter>1</alter><octave>4</octave></pitch><duration>1</duration></note>
<note><rest/><duration>3</duration></note></measure></part></score-partwise>"""
_FACTS = facts_about([_CHART], positions=[5])
DOORS: dict[str, Door] = {
    "chord": Door(Chord.parse, ("Cm7b5", "F#13(b9,#11)/A#", "N.C.", "Ebmaj7sus4", "Bb6/9", "C7(#9)no5", "Gø7",
                                "Aadd11")),
    "scale": Door(Scale.parse, ("A dorian", "Bb", "F# altered scale", "C lydian augmented #2", "Cm", "E♭ blues")),
    "chart": Door(Chart.parse, (str(_CHART), "| Am7 | D7 |", "meter: 6/8\ntempo: 92.5\nfeel: swing\n| C / | % |",
                                "key: B minor\n|: Bm7 | E9 :| x3 # twice\n[B] | G |1. A :|2. B7(b9,#11) ||")),
    "bars of a recording": Door(lambda text: read_bars(f"# bars at {text}"), ("0.350 2.959 5.568", "0 2\n# bars at 4",
                                                                              "1.000 2.5\n| Am7 |")),
    "tuning": Door(Tuning.parse, ("drop D", "E2 A2 D3 G3 B3 E4", "standard capo 2", "B0 E1 A1 D2 G2")),
    "pitch": Door(Pitch.parse, ("A2", "F##4", "Bb-1")),
    "name": Door(NoteName, ("A", "F##", "B♭")),
    "names": Door(lambda text: names_of(text.split()), ("C E G", "Bb D F A", "F# A C E")),
    "interval": Door(Interval.parse, ("P5", "-m3", "AA4", "d15")),
    "degree": Door(Interval.of_degree, ("b3", "#9", "13")),
    "meter": Door(Meter.parse, ("4/4", "12 / 8", "3/2")),
    "feel": Door(read_feel, ("swing", "straight 16ths", "half-time")),
    "claim": Door(judge, ("Dm7b5 over E7 gives b7 b9 3 b13", "A dorian is mode 2 of G major", "Bb is the b3 of Gm7",
                          "string 2 fret 10 bent 2 is B", "G7 is V7 in C major", "E7#9 has E G# B D F##",
                          "N.C. has C E", "N.C. over C7 gives 1 3", "C7 has ,", "N.C. is V in C major",
                          "A dorian sounds 1 2 b3 4 5 6 b7")),
    "claims": Door(_claims, ("as {= G7 is V7 in C major =} says", "{=Bb is the b3 of Gm7 =} {= x =}",
                             "(Dm7b5 over E7 gives b7, b9, 3 and b13)")),
    "prose names": Door(_names, ("A walk from Am7 to D7, frets 5 to 8", "`Gm7/F` on string 2, fret 8; the 5th fret",
                                 "Play A, then B-flat. **A** falls to the low E string in section B",
                                 "positions 2, 5 and 7–9: C#4 over A dorian.")),
    "markdown": Door(_markdown, ("# Title\n\n- a\n- [ ] b\n\n> **Care** c\n", "| a | b |\n|---|---|\n| *c* | `d` |\n",
                                 "[a](https://b.example \"c\") <b>d</b> &amp; **e _f_**\n\n```\ng\n```\n")),
    "prose": Door(_prose, ("# H ##\n\n[a](b) ![](c) Gb and {= G7 is V7 in C major =}\n\n## J\n",
                           "♩ = 92 at string 2 fret 8, the 5th position\n", "`A` ```B``` Dm over C gives 9 11 6"),
                  slow=True),
    "sentences": Door(lambda text: contradictions(text, _FACTS), (
        "When the Dm7 comes, **stay** in position 7; `Em7` at ♩ = 92.\n\n- In 3/4, bar 2 is E7.\n",
        "Compare Em, C and D – A: the low E string, section B.\n> Bb\n\n| a |\n",
        "“Gm7” over A minor [x](y) {= a =} <b>",
        "## Tune to drop D ##\nThe first finger belongs to fret 7, the key is D minor: four bars of 4/4")),
    "code": Door(_code, ('chart = Chart.parse("| Gm7 | C9 |")\nposition = 5', 'plot_neck("A dorian", over="Am7")\n#x',
                         "'| Am7 |'", 'f"{x!r}" + b"A".decode()'), slow=True),
    "title": Door(lambda text: slug(text), ("Low tide", "Łukasz’ blues #9")),
    "outline": Door(lambda text: read_outline(text, _CHART), (
        "bars 1-2: one string; low; sparse\nbars 3-8: space; high; dense\nending: 1 on beat 1 of bar 8",
        "bar 1: bends; low; dense\nend: b3 on beat 3/2 of bar 1")),
    "beat": Door(beat_of, ("2", "and of 3", "e of 1", "& of 12")),
    "pattern": Door(read_pattern, ("thirds", "1 2 3 1", "groups of 4")),
    "rhythm": Door(lambda text: read_rhythm(text, Fraction(4)), ("1 1/2 1/2 -1 1", "0.5 0.5 3", "4")),
    "contour": Door(read_contour, ("0 1 1 -1", "3")),
    "style": Door(read_style, ((
        "style: quarry\nsteps: 2 # eighths\nkit: brushes\npocket: snare 4, bass -2\n[drums main]\nsweep: xo xo xo xO\n"
        "[fills]\n2: snare x. xx, low tom .. .x\n[bass main]\nR- 5- R- a-\n[comp main]\nX- .x -- .P\n"),)),
    "choruses": Door(lambda text: chorus_words(text, 4), ("light, main x2, full", "grows", "stop")),
    "drum map": Door(read_drum_map, ("kick: 35\nopen hat: 54 # loud\n",)),
    "backing": Door(read_kept, (
        '{"changes": "| Am7 | D7 |", "band": {"style": "funk", "parts": ["Drums"], "intro": 2, "loop": false}}',)),
    "tempos": Door(read_tempos, ("60-92", "80", "60 to 92")),
    "roster": Door(_in_file("roster.csv", read_roster), (
        "name,tuning,left handed,large print,level,key,tempo,note names\nAda,drop D,yes,,beginner,A,60-80,german\n",
        "Name;Key\nBo;Bb\n\"C, D\";\n", "name\n\"Eve\"\n")),
    **{f"student's {column}": Door(_student(column), takes) for column, takes in {
        "name": ("Ada", "Bo-2"), "tuning": ("drop D", "E2 A2 D3 G3 B3 E4"), "key": ("A dorian", "Bb"),
        "tempo": ("60-92", "80"), "left handed": ("yes", "no"), "level": ("beginner",),
        "note names": ("german", "solfege")}.items()},
    "course": Door(_in_file("course.toml", _course), (
        'title = "Loops"\nabout = "x"\n[[level]]\nname = "one"\nlessons = ["a", "b"]\n[needs]\nb = ["a"]\n',
        'title = "T"\n[[level]]\nlessons = ["a"]\n')),
    "line": Door(_line, (line_text(),)),
    "phrase": Door(Line.parse, (
        "   e e  q q\ne|-5-------|\nB|---8b10--|\nG|-----5h7-|\nD|--------|\nA|--------|\nE|--------|",
        "title: Low tide\nover: | Am7 | D7 |\ne A3 C4[h] 3/7[b2 r2@1/4] r q. E4+G4:3 e r | h~e 3/5 e3 A3 A3 A3",
        "> e|-----7~|\n> B|-------|\n> G|-------|\n> D|-------|\n> A|-------|\n> E|-<12>--|", "3 5 b7 9 over Dm7")),
    "notebook": Door(_in_file("raw.ipynb", lambda path: Lesson.read(path).charts), (json.dumps(lesson("x")),),
                     slow=True),
    "passage": Door(Passage.parse, ("bars 5-8, part Lead, staff 1", "voice 2, octaves -1, top, grid 16ths")),
    "MusicXML": Door(line_of_text, (_MUSICXML,), slow=True),
    "MusicXML file": Door(_in_file("tune.musicxml", read_music), (_FOREIGN,)),
    **{f"metadata {word}": Door(_about(word), takes, slow=True) for word, takes in {
        "title": ("Slack water",), "tempo": ("92", "92.5", "185/2"), "key": ("C mixolydian", "G minor"),
        "home": ("G dorian",), "feel": ("straight 16",), "level": ("beginner",), "minutes": ("30",)}.items()},
}
