"""Planted errors: each takes a clean, run lesson apart in one way; a check must find every one of them."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from workbook.mimes import CHART_MIME, LINE_MIME

Notebook = dict[str, Any]
Plant = Callable[[Notebook], None]
SVG = "image/svg+xml"


def outputs(notebook: Notebook, mime: str) -> list[dict[str, Any]]:
    return [output for cell in notebook["cells"] for output in cell.get("outputs", ())
            if mime in output.get("data", {})]


def on_line(change: Callable[[dict[str, Any]], None], number: int = 0) -> Plant:
    """Change the stored line number `number` as its JSON object."""
    def plant(notebook: Notebook) -> None:
        data = outputs(notebook, LINE_MIME)[number]["data"]
        stored = data[LINE_MIME]
        line = stored if isinstance(stored, dict) else json.loads("".join(stored))
        change(line)
        data[LINE_MIME] = line
    return plant


def on_note(place: int, value: object, note: int = 2) -> Plant:
    """Set one field of a note: 0 pitch, 1 onset, 2 length, 3 string, 4 fret, 5 finger, 6 degree, 7 marks."""
    def change(line: dict[str, Any]) -> None:
        row = line["notes"][note]
        row[place] = value(row) if callable(value) else value
    return on_line(change)


def head(key: str, value: object) -> Plant:
    return on_line(lambda line: line.__setitem__(key, value))


def prose(text: str) -> Plant:
    """A paragraph at the end of the lesson."""
    return lambda notebook: notebook["cells"].append(
        {"cell_type": "markdown", "id": "planted", "metadata": {}, "source": text})


def about(key: str, value: object = None) -> Plant:
    def plant(notebook: Notebook) -> None:
        if value is None:
            del notebook["metadata"]["vampbook"][key]
        else:
            notebook["metadata"]["vampbook"][key] = value
    return plant


def figure(change: Callable[[dict[str, Any]], None]) -> Plant:
    return lambda notebook: change(outputs(notebook, SVG)[1])


def drawing(change: Callable[[str], str]) -> Plant:
    def plant(output: dict[str, Any]) -> None:
        output["data"][SVG] = change("".join(output["data"][SVG]))
    return figure(plant)


def alt(value: str | None) -> Plant:
    def plant(output: dict[str, Any]) -> None:
        for details in (output["metadata"], output["metadata"].get(SVG, {})):
            if "alt" in details:
                details["alt"] = value or ""
    return figure(plant)


def _width(output: dict[str, Any]) -> None:
    output["metadata"].setdefault(SVG, {})["width_mm"] = 420


def _no_caution(notebook: Notebook) -> None:
    for cell in notebook["cells"]:
        cell["source"] = "".join(cell["source"]).replace("**Care**", "")
        for output in cell.get("outputs", ()):
            if "text/markdown" in output.get("data", {}):
                output["data"]["text/markdown"] = "".join(output["data"]["text/markdown"]).replace("**Care**", "")


def _no_headings(notebook: Notebook) -> None:
    for cell in notebook["cells"]:
        if cell["cell_type"] == "markdown":
            cell["source"] = "".join(cell["source"]).replace("#", "")


def _printed(notebook: Notebook) -> None:
    code(notebook)["outputs"].append({"output_type": "stream", "name": "stdout", "text": "here"})


def _raised(notebook: Notebook) -> None:
    code(notebook)["outputs"].append({"output_type": "error", "ename": "NameError", "evalue": "drill", "traceback": []})


def _never_run(notebook: Notebook) -> None:
    code(notebook)["execution_count"] = None


def _broken_chart(notebook: Notebook) -> None:
    outputs(notebook, CHART_MIME)[0]["data"][CHART_MIME] = "| Gm7 | H9 |"


def _other_chord(line: dict[str, Any]) -> None:
    line["chart"] = line["chart"].replace("C9", "Db9").replace("Gm7", "F#m7")


def code(notebook: Notebook) -> dict[str, Any]:
    return next(cell for cell in notebook["cells"] if cell["cell_type"] == "code" and cell.get("outputs"))


def _longer(row: list[Any]) -> str:
    return "7/3"


# name: (plant, words that the finding must hold)
PLANTED: dict[str, tuple[Plant, str]] = {
    "fret one too high": (on_note(4, lambda row: row[4] + 1), "does not sound"),
    "fret one too low": (on_note(4, lambda row: row[4] - 1), "does not sound"),
    "fret an octave off": (on_note(4, lambda row: row[4] + 12), "does not sound"),
    "wrong string": (on_note(3, lambda row: row[3] % 6 + 1), "does not sound"),
    "string that is not there": (on_note(3, 9), "does not sound"),
    "fret beyond the neck": (on_note(4, 40), "does not sound"),
    "pitch a semitone off": (on_note(0, "F#5"), "F#5"),
    "pitch an octave off": (on_note(0, lambda row: row[0][:-1] + str(int(row[0][-1]) + 1)), "does not sound"),
    "no pitch": (on_note(0, "H2"), "H2"),
    "wrong degree": (on_note(6, "#11"), "is not the #11"),
    "third for a fourth": (on_note(6, lambda row: "11" if row[6] != "11" else "3"), "is not the"),
    "note too long": (on_note(2, _longer), "before"),
    "note of no length": (on_note(2, "0"), "lasts 0"),
    "note before the beginning": (on_note(1, "-1", 0), "-1"),
    "two notes out of order": (on_line(lambda line: line["notes"].reverse()), "before"),
    "finger on an open string": (on_note(5, 0), "finger 0"),
    "five fingers too many": (on_note(5, 9), "finger"),
    "another tuning": (on_line(lambda line: line["tuning"].__setitem__("strings", "D2 A2 D3 G3 A3 D4")),
                       "does not sound"),
    "a capo that nobody set": (on_line(lambda line: line["tuning"].__setitem__("capo", 2)), "does not sound"),
    "an impossible tuning": (on_line(lambda line: line["tuning"].__setitem__("strings", "E2 A2")), "strings"),
    "chords changed under the line": (on_line(_other_chord), "is not the"),
    "a chord nobody reads": (on_line(lambda line: line.__setitem__("chart", "| Gm7 | Q9 |")), "Q9"),
    "a promise that is not kept": (head("promise", "guide tones"), "breaks the promise"),
    "an unknown promise": (head("promise", "always right"), "always right"),
    "a line without its notes": (on_line(lambda line: line.pop("notes")), "line"),
    "a mark that does not exist": (on_note(7, [["wiggle", "0", "0"]]), "wiggle"),
    "a bend of a fifth": (on_note(7, [["bend", "7", "0"]]), "7 is no bend in semitones"),
    "a bend downward": (on_note(7, [["bend", "-2", "0"]]), "-2 is no bend in semitones"),
    "a bend beyond all strings": (on_note(7, [["bend", "1000000000", "0"]]), "is no bend in semitones"),
    "a bend after its note": (on_note(7, lambda row: [["bend", "1", row[2]]]), "bend begins after it has ended"),
    "a line of negative length": (head("length_beats", "-4"), "a line of -4 beats"),
    "a line without end": (head("length_beats", "1000000000"), "bars"),
    "a field nobody knows": (head("postion", 5), "did you mean position"),
    "a tempo without end": (about("tempo", "1e99999999"), "no tempo"),
    "false degrees in a claim": (prose("{= Dm7b5 over E7 gives b7 b9 3 13 =}"), "Dm7b5 over E7 gives b7 b9 3 b13"),
    "too few degrees in a claim": (prose("{= Dm7b5 over E7 gives b7 b9 3 =}"), "b13"),
    "wrong mode number": (prose("Recall: {= A dorian is mode 3 of G major =}"), "mode 2 of G major"),
    "wrong parent": (prose("{= A dorian is the 2nd mode of A major =}"), "mode 2 of G major"),
    "wrong mode name": (prose("{= A phrygian is mode 2 of G major =}"), "mode 3 of F major"),
    "wrong notes of a scale": (prose("{= G major has G A B C D E F =}"), "F#"),
    "wrong notes of a chord": (prose("{= E7#9 has E G B D F## =}"), "E G# B D F##"),
    "wrong degrees of a chord": (prose("{= E7#9 has 1 b3 5 b7 #9 =}"), "1 3 5 b7 #9"),
    "enharmonic name": (prose("{= A# is the b3 of Gm7 =}"), "Bb is the b3 of Gm7"),
    "wrong degree of a note": (prose("{= Bb is the 3 of Gm7 =}"), "B is the 3 of Gm7"),
    "wrong numeral": (prose("{= Dm7 is ii7 in D minor =}"), "i7 in D minor"),
    "wrong place": (prose("{= string 2 fret 10 is B =}"), "fret 10 is A"),
    "wrong bend": (prose("{= string 2 fret 10 bent 1 is B =}"), "Bb"),
    "place beyond the neck": (prose("{= string 2 fret 60 is B =}"), "fret 60"),
    "a claim nobody reads": (prose("{= the drill is pretty hard =}"), "no claim"),
    "a chord nobody reads in a claim": (prose("{= Dm7q5 over E7 gives b7 b9 =}"), "Dm7q5"),
    "a chord that the changes do not hold": (prose("When the Fm7 comes, wait."), "the changes hold Gm7 and C9"),
    "another position": (prose("## More\n\nWe stay in position 7."), "the lesson lies in position 3"),
    "another home": (prose("The home scale is G phrygian."), "the home scale is G dorian"),
    "another track's tempo": (prose("The track runs at 120."), "the tempo is ♩ = 92"),
    # The longest line of the lesson, the phrases, has 25 bars.
    "a bar that is not there": (prose("Breathe in bar 26."), "the changes have two bars"),
    "a chord in another's bar": (prose("The C9 in bar 1 is bright."), "bar 1 holds Gm7"),
    "another meter": (prose("We are in 3/4 here."), "the meter is 4/4"),
    "another tuning in words": (prose("Tune to drop D first."), "the tuning is standard"),
    "caution taken out": (_no_caution, "needs the caution"),
    "no alt text": (alt(None), "no alt text"),
    "blank alt text": (alt("   "), "no alt text"),
    "heading that jumps": (prose("##### Deep"), "jumps from level"),
    "a heading of signs alone": (prose("## ##"), "heading without words"),
    "second title": (prose("# Another title"), "second title"),
    "no heading": (_no_headings, "no heading"),
    "link into the teacher's folder": (prose("[tab](../mine/tab.pdf)"), "leads nowhere"),
    "picture without words": (prose("![](data:image/png;base64,AA==)"), "no alt text"),
    "a key nobody reads": (about("key", "H minor"), "H minor"),
    "a level nobody knows": (about("level", "hard"), "beginner, intermediate, advanced"),
    "a tempo of none": (about("tempo", "0"), "no tempo"),
    "a tempo in words": (about("tempo", "fast"), "fast"),
    "a feel nobody knows": (about("feel", "bouncy"), "bouncy"),
    "no minutes": (about("minutes", 0), "minutes"),
    **{f"no {key}": (about(key), f"its {key}") for key in ("title", "level", "aims", "key", "tempo", "feel")},
    "a technique nobody knows": (about("techniques", ["juggling"]), "juggling"),
    "figure wider than the page": (figure(_width), "420 mm"),
    "printed text": (_printed, "prints text"),
    "an error kept as output": (_raised, "NameError"),
    "a name against the key": (prose("Lean on A# here."), "spelled Bb"),
    "a drawing that runs": (drawing(lambda svg: svg.replace("</svg>", "<script>1</script></svg>")), "could run"),
    "a drawing with a handler": (drawing(lambda svg: svg.replace("<svg ", '<svg onload="1" ', 1)), "could run"),
    "a drawing cut short": (drawing(lambda svg: svg[:200]), "SVG"),
    "a cell that was never run": (_never_run, "never run"),
    "changes nobody reads": (_broken_chart, "H9"),
}

ON_FAST = frozenset({"caution taken out"})  # planted in a lesson whose drills are fast


# What only a run can find: (plant, words).
def _stale(notebook: Notebook) -> None:
    cell = next(cell for cell in notebook["cells"] if "plan()" in "".join(cell["source"]))
    for output in cell["outputs"]:
        for mime in ("text/markdown", "text/plain"):
            output["data"][mime] = "".join(output["data"][mime]).replace("1", "2")


def _raises(notebook: Notebook) -> None:
    cell = next(cell for cell in notebook["cells"] if "plan()" in "".join(cell["source"]))
    cell["source"] = "dril.plan()"


def _other_tempo(notebook: Notebook) -> None:
    cell = next(cell for cell in notebook["cells"] if cell["id"] == "choices")
    cell["source"] = "".join(cell["source"]).replace("tempo = 92", "tempo = 93")


RUN_PLANTED: dict[str, tuple[Plant, str]] = {
    "stale output": (_stale, "differs"), "a cell that raises": (_raises, "NameError"),
    "changes edited and not run": (_other_tempo, "differs"),
}


def drills_only(notebook: Notebook) -> Notebook:
    """A lesson as if its teacher had taken out what is played before its drills: the grips and the rhythm part."""
    kept = [cell for cell in notebook["cells"] if cell["id"] not in ("grips-words", "grips", "rhythm-words", "rhythm")]
    return {**notebook, "cells": kept}
