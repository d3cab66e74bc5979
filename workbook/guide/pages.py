"""The pages of the guide: found by what they say, beside the names of the kit that fit.

A page is a notebook that comes with the kit. Its title is its first heading; the line after it says what it is about.
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from theorylib.errors import VampError, closest

from ..cells.magic import link_to, work_folder
from ..cells.telling import Words
from ..lesson.lesson import Lesson
from ..teacher_folder import places

_MOST_PAGES, _MOST_NAMES = 3, 6
_IN_TITLE, _IN_HEADING, _IN_CODE = 20, 6, 2  # what a word counts there, against 1 in the text
_WORD = re.compile(r"[^\W_]+")


class GuideError(VampError):
    """Words that the guide says nothing of."""


@dataclass(frozen=True, slots=True)
class Page:
    """A page: its place in a teacher's folder, its title, what it is about, its headings, text and code."""

    place: str
    title: str
    about: str
    headings: str
    text: str
    code: str


@lru_cache(maxsize=1)
def pages() -> tuple[Page, ...]:
    """Every page, in the order in which one reads them."""
    return tuple(_page(place, path) for place, path in places().items() if path.suffix == ".ipynb")


def told_of(words: str, kit: Mapping[str, Any]) -> dict[str, Any]:
    """The same for a program: {"pages": [{"file", "title", "about"}], "names": [{"name", "call", "about"}]}."""
    asked = words.strip().removesuffix("()")
    guided(words, kit)  # raises GuideError where there is nothing
    here = found(asked) if asked else pages()
    names = [asked] if asked in kit else names_for(asked, kit) if asked else kit
    return {"pages": [{"file": one.place, "title": one.title, "about": one.about} for one in here],
            "names": [{"name": name, "call": call_of(name, kit[name]), "about": first_line(kit[name])}
                      for name in names]}


def guided(words: str, kit: Mapping[str, Any]) -> Words:
    """What the guide has on some words: pages first, then names of the `kit` (name: what it is), a name's help in full.

    Raises GuideError where it has nothing, with the nearest words.
    """
    if not words.strip():
        return Words("\n".join(f"- {_linked(page)}: {page.about}" for page in pages()))
    asked = words.strip().removesuffix("()")
    lines = [f"- {_linked(page)}: {page.about}" for page in found(asked)]
    if asked in kit:
        return Words("\n".join([*help_of(asked, kit[asked]), "", *lines]).rstrip())
    named = names_for(asked, kit)
    if not lines and not named:
        vocabulary = {*kit, *(word for page in pages() for word in _words_of(page.title + " " + page.headings))}
        near = closest(asked, sorted(vocabulary))
        raise GuideError(f"the guide says nothing of “{asked}”", value=asked, nearest=near,
                         expected="other words, or guide() for all")
    lines += [f"- `{call_of(name, kit[name])}`: {first_line(kit[name])}" for name in named]
    return Words("\n".join(lines))


def found(words: str) -> list[Page]:
    """The pages that some words are about, best first."""
    asked = list(_words_of(words))
    scores = {page: _score(page, asked) for page in pages()}
    best = max(scores.values(), default=0)
    near = [page for page, score in scores.items() if score and score * 4 >= best]
    return sorted(near, key=lambda page: -scores[page])[:_MOST_PAGES]


def names_for(words: str, kit: Mapping[str, Any]) -> list[str]:
    """The names of the kit that bear some words, or whose help does in its first sentence; best first."""
    asked = list(_words_of(words))
    scores = {}
    for name, what in kit.items():
        own, told = set(_words_of(name.replace("_", " "))), set(_words_of(first_line(what)))
        scores[name] = sum(3 * (word in own) + (word in told) for word in asked)
    best = max(scores.values())
    return sorted((name for name in kit if scores[name] and scores[name] * 2 >= best),
                  key=lambda name: (-scores[name], name))[:_MOST_NAMES]


def help_of(name: str, what: Any) -> Iterator[str]:
    """A name's call, its help and its example, as lines of Markdown."""
    told, _, example = (inspect.getdoc(what) or "").partition(">>>")
    yield from (f"### `{call_of(name, what)}`", "", told.strip())
    if example and hasattr(what, "__module__"):
        yield from ("", "```python", *f">>>{example}".rstrip().splitlines(), "```")


def call_of(name: str, what: Any) -> str:
    """“plot_neck(what, …)”: the name with what must be given."""
    if isinstance(what, type) or not callable(what):
        return name
    needed = [one.name for one in inspect.signature(what).parameters.values() if one.default is one.empty]
    return f"{name}({', '.join([*needed, '…'])})"


def _page(place: str, path: Path) -> Page:
    cells = Lesson.read(path).cells
    text = "\n".join(cell.source for cell in cells if not cell.is_code)
    headings = re.findall(r"^#+ (.+)$", text, re.MULTILINE)
    said = [line for line in text.splitlines() if line and not line.startswith("#")]
    return Page(place, headings[0], said[0] if said else "", " ".join(headings[1:]), text,
                "\n".join(cell.source for cell in cells if cell.is_code))


def _score(page: Page, asked: list[str]) -> int:
    parts = {_IN_TITLE: page.title, _IN_HEADING: page.headings, _IN_CODE: page.code.replace("_", " "), 1: page.text}
    return sum(weight * any(word == one for one in _words_of(text)) for weight, text in parts.items() for word in asked)


def _linked(page: Page) -> str:
    path = work_folder() / page.place
    return f"[{page.title}]({link_to(path)})" if path.is_file() else f"**{page.title}** (`{page.place}`)"


def first_line(what: Any) -> str:
    """When one wants a name of the kit, in the words of its help."""
    return (inspect.getdoc(what) or "").partition("\n")[0]


def _words_of(text: str) -> Iterator[str]:
    """Its words in small letters, a plural as its singular."""
    for word in _WORD.findall(text.lower()):
        yield word[:-1] if len(word) > 3 and word.endswith("s") and not word.endswith("ss") else word
