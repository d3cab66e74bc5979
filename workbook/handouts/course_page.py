"""The index of a course as one HTML file: every lesson with its facts, searched by word, key, technique, level, kind of
chord and scale. Without scripts it is the whole list."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Any
from urllib.parse import quote

from theorylib.errors import VampError
from theorylib.levels import LEVELS
from theorylib.names.chords import Chord
from theorylib.names.scales import Scale

from ..draw.spoken import spoken_chord
from ..fonts.web import faces_css
from .credits import course_credits
from .policy import policy_tag

_HERE = Path(__file__).parent
# Files of a pack: what a link to one says.
_FILES = {"lesson.html": "Practice page", "handout.pdf": "Handout (PDF)", "backing.mid": "Backing (MIDI)",
          "lesson.mid": "Lines (MIDI)", "lesson.musicxml": "Lines (MusicXML)"}
_FACETS = {"key": "Key", "technique": "Technique", "level": "Level", "chord": "Kind of chord", "scale": "Scale"}


@dataclass(frozen=True, slots=True)
class Entry:
    """A lesson in an index: the folder of its pack, its part of the course, its facts (facts_of), needs by folder, and
    the files of its pack."""

    folder: str
    part: str
    facts: Mapping[str, Any]
    needs: tuple[str, ...] = ()
    files: tuple[str, ...] = ("handout.pdf", "lesson.html")

    def values(self, facet: str) -> tuple[str, ...]:
        """What a search by a facet (a key of _FACETS) finds it under."""
        facts = self.facts
        return tuple({"key": [facts["key"]], "level": [facts["level"]], "technique": facts["techniques"],
                      "chord": facts["chords"], "scale": _scales(facts)}[facet])

    def words(self) -> str:
        """What a search by words looks through: names as they are written and as they are spoken, a field between |."""
        facts = self.facts
        said = [spoken for kind in facts["chords"] for spoken in _spoken(kind)]
        fields = [facts["title"], *facts["aims"], facts["level"], facts["feel"], facts["key"], facts.get("home", ""),
                  *facts["techniques"], *facts["chords"], *said, *_scales(facts)]
        return "|".join(filter(None, map(str, fields)))


def _scales(facts: Mapping[str, Any]) -> list[str]:
    """Kinds of scale: that of the home and those of the chords."""
    try:
        home = [Scale.parse(facts["home"]).pretty_kind] if facts.get("home") else []
    except VampError:
        home = []
    return list(dict.fromkeys([*home, *facts["scales"]]))


def _spoken(kind: str) -> Iterator[str]:
    """A kind of chord ("7♯9") as it is said: “seventh sharp nine”, “dominant”."""
    try:
        chord = Chord.parse("C" + ("" if kind == "major triad" else kind))
    except VampError:
        return
    yield spoken_chord(chord).removeprefix("C ")
    degrees = {tone.degree for tone in chord.tones}
    if {"3", "b7"} <= degrees:
        yield "dominant"


def course_page(title: str, about: str, entries: Sequence[Entry]) -> str:
    """The page as text; its links lead to packs in folders beside it and to `course.pdf`."""
    script = (_HERE / "course_page" / "search.js").read_text(encoding="utf-8")
    style = (faces_css() + (_HERE / "page.css").read_text(encoding="utf-8")
             + (_HERE / "course_page" / "course.css").read_text(encoding="utf-8"))
    titles = {entry.folder: str(entry.facts["title"]) for entry in entries}
    parts = []
    for part in dict.fromkeys(entry.part for entry in entries):
        cards = "\n".join(_card(entry, number, titles) for number, entry in enumerate(entries, 1) if entry.part == part)
        name = escape(part[:1].upper() + part[1:])
        parts.append(f'<section data-part><h2>{name}</h2>\n<ul class="lessons">\n{cards}\n</ul></section>')
    words = f"<p>{escape(about)}</p>" if about else ""
    return (f'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
            '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
            '<meta name="color-scheme" content="light dark">\n'
            f"{policy_tag(script)}<title>{escape(title)}</title>\n<style>\n{style}</style>\n</head>\n<body>\n<main>\n"
            f"<h1>{escape(title)}</h1>\n{words}\n"
            '<p><a href="course.pdf">The whole course as one PDF</a></p>\n'
            f"{_search(entries)}\n{''.join(parts)}\n{course_credits()}</main>\n<script>{script}</script>\n</body>\n</html>\n")


def _search(entries: Sequence[Entry]) -> str:
    fields = []
    for facet, label in _FACETS.items():
        values = _ordered({value for entry in entries for value in entry.values(facet) if value})
        options = "".join(f'<option value="{escape(value)}">{escape(value)}</option>' for value in values)
        fields.append(f'<label>{label} <select data-facet="{facet}"><option value="">any</option>{options}</select>'
                      "</label>")
    return ('<form role="search" aria-label="Lessons" hidden>\n<label>Words <input type="search" data-words></label>\n'
            '<details class="filters"><summary>Filters</summary>\n' + "\n".join(fields) + "</details>\n"
            '<button type="reset">Show all</button>\n<p role="status" aria-live="polite" data-count></p>\n</form>')


def _card(entry: Entry, number: int, titles: Mapping[str, str]) -> str:
    facts = entry.facts
    data = " ".join(f'data-{facet}="{escape("|".join(entry.values(facet)))}"' for facet in _FACETS)
    line = " · ".join(filter(None, (facts["level"], f"{facts['minutes']} minutes" if facts["minutes"] else "",
                                    f"♩ = {facts['tempo']}" if facts["tempo"] else "", facts["feel"], _home(facts))))
    rows = [("Techniques", facts["techniques"]), ("Chords", facts["chords"]), ("Scales", _scales(facts))]
    told = "".join(f"<dt>{name}</dt><dd>{escape(', '.join(values))}</dd>" for name, values in rows if values)
    needs = ", ".join(f'<a href="#{quote(one)}">{escape(titles[one])}</a>' for one in entry.needs if one in titles)
    first = f'<p class="needs">First: {needs}</p>' if needs else ""
    address = quote(entry.folder)  # a folder's name is no address: it may hold a colon, a # or a %
    title, aims = escape(facts["title"]), "".join(f"<li>{escape(aim)}</li>" for aim in facts["aims"])
    pack = escape(str(facts.get("pack", "")))
    return (f'<li id="{escape(entry.folder)}" {data} data-words="{escape(entry.words())}" data-pack="{pack}">\n'
            f'<h3>{number}. <a href="{address}/lesson.html">{title}</a></h3>\n<p class="quiet">{escape(line)}</p>'
            f'<p class="progress" data-progress hidden></p>{first}\n<ul>{aims}</ul>\n<dl>{told}</dl>\n'
            f'<p class="links">{_links(entry, address, title)}</p></li>')


def _home(facts: Mapping[str, Any]) -> str:
    """The home scale, as the lesson says it; the key where it says none."""
    return f"home scale {facts['home']}" if facts.get("home") else str(facts["key"])


def _links(entry: Entry, address: str, title: str) -> str:
    """Every file of the pack, by what it is."""
    found = []
    known = list(_FILES)
    for name in sorted(entry.files, key=lambda one: (known.index(one) if one in known else len(known), one)):
        if name == "teacher.pdf":  # for the teacher alone
            continue
        word = escape(_FILES.get(name, name))
        found.append(f'<a href="{address}/{quote(name)}" aria-label="{word} of {title}">{word}</a>')
    return " · ".join(found)


def _ordered(values: Iterable[str]) -> list[str]:
    return sorted(values, key=lambda value: (LEVELS.index(value) if value in LEVELS else len(LEVELS), value))
