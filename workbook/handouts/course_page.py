"""The index of a course as one HTML file: every lesson with its facts, searched by word, key, technique, level, kind of
chord and scale. Without scripts it is the whole list."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Any
from urllib.parse import quote

from theorylib.levels import LEVELS

from .credits import course_credits
from .policy import policy_tag

_HERE = Path(__file__).parent
_FACETS = {"key": "Key", "technique": "Technique", "level": "Level", "chord": "Kind of chord", "scale": "Scale"}


@dataclass(frozen=True, slots=True)
class Entry:
    """A lesson in an index: the folder of its pack, its part of the course, its facts (facts_of), needs by folder."""

    folder: str
    part: str
    facts: Mapping[str, Any]
    needs: tuple[str, ...] = ()

    def values(self, facet: str) -> tuple[str, ...]:
        """What a search by a facet (a key of _FACETS) finds it under."""
        facts = self.facts
        return tuple({"key": [facts["key"]], "level": [facts["level"]], "technique": facts["techniques"],
                      "chord": facts["chords"], "scale": facts["scales"]}[facet])


def course_page(title: str, about: str, entries: Sequence[Entry]) -> str:
    """The page as text; its links lead to packs in folders beside it and to `course.pdf`."""
    script = (_HERE / "course_page" / "search.js").read_text(encoding="utf-8")
    style = ((_HERE / "page.css").read_text(encoding="utf-8")
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
            + "\n".join(fields) + '\n<button type="reset">Show all</button>\n'
            '<p role="status" aria-live="polite" data-count></p>\n</form>')


def _card(entry: Entry, number: int, titles: Mapping[str, str]) -> str:
    facts = entry.facts
    data = " ".join(f'data-{facet}="{escape("|".join(entry.values(facet)))}"' for facet in _FACETS)
    line = " · ".join(filter(None, (facts["level"], f"{facts['minutes']} minutes" if facts["minutes"] else "",
                                    f"♩ = {facts['tempo']}" if facts["tempo"] else "", facts["feel"], facts["key"])))
    rows = [("Techniques", facts["techniques"]), ("Chords", facts["chords"]), ("Scales", facts["scales"])]
    told = "".join(f"<dt>{name}</dt><dd>{escape(', '.join(values))}</dd>" for name, values in rows if values)
    needs = ", ".join(f'<a href="#{quote(one)}">{escape(titles[one])}</a>' for one in entry.needs if one in titles)
    first = f'<p class="needs">First: {needs}</p>' if needs else ""
    address = quote(entry.folder)  # a folder's name is no address: it may hold a colon, a # or a %
    title, aims = escape(facts["title"]), "".join(f"<li>{escape(aim)}</li>" for aim in facts["aims"])
    return (f'<li id="{escape(entry.folder)}" {data}><h3>{number}. <a href="{address}/lesson.html">{title}</a></h3>\n'
            f'<p class="quiet">{escape(line)}</p>{first}\n<ul>{aims}</ul>\n<dl>{told}</dl>\n<p class="links">'
            f'<a href="{address}/handout.pdf" aria-label="Handout (PDF) of {title}">Handout (PDF)</a></p></li>')


def _ordered(values: Iterable[str]) -> list[str]:
    return sorted(values, key=lambda value: (LEVELS.index(value) if value in LEVELS else len(LEVELS), value))
