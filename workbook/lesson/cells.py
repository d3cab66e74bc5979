"""Cells of a notebook as plain values, with stable ids; texts that go into them, as what they are and nothing more."""

from __future__ import annotations

import re
from typing import Any

# What Markdown, HTML, mathematics or a marked claim could begin with in one line of text; a # only where it would close
# a heading, an = only at a brace.
_MARKUP = re.compile(r"[\\`*_\[\]<{}~$]|(?<=[{}])=|=(?=})|&(?=[#\w])|(?<!\S)#|:(?=//)|@(?=\w)|(?<=\bwww)\.")
_JOINERS = "\u200c\u200d"  # zero width, and part of words and emoji


def text_cell(name: str, text: str, *tags: str) -> dict[str, Any]:
    return {"cell_type": "markdown", "id": name, "metadata": _tagged(tags), "source": _lines(text)}


def code_cell(name: str, code: str, *tags: str) -> dict[str, Any]:
    return {"cell_type": "code", "execution_count": None, "id": name, "metadata": _tagged(tags), "outputs": [],
            "source": _lines(code)}


def literal(value: object) -> str:
    r"""A text (or the text of a value) as code, in double quotes.

    >>> print(literal('a "quoted" word'))
    "a \"quoted\" word"
    """
    return '"' + "".join(map(_escaped, str(value))) + '"'


def block(text: str) -> str:
    """A text of several lines as code that shows them line by line.

    >>> print(block("| Gm7 |"))
    \"\"\"| Gm7 |\"\"\"
    """
    last = '\\"' if text.endswith('"') else ""  # it would stand with the three that end the text
    lines = "".join(sign if sign in '\n"' else _escaped(sign) for sign in (text[:-1] if last else text))
    return '"""' + lines.replace('"""', r'\"\"\"') + last + '"""'


def as_markdown(text: str) -> str:
    r"""A line of text that reads as itself in Markdown: no emphasis, link, HTML, mathematics or claim.

    >>> print(as_markdown("Blues *in* A"))
    Blues \*in\* A
    """
    return _MARKUP.sub(lambda match: "\\" + match[0], text)


def _escaped(sign: str) -> str:
    if sign in '"\\':
        return "\\" + sign
    return sign if sign.isprintable() or sign in _JOINERS else repr(sign)[1:-1]


def _tagged(tags: tuple[str, ...]) -> dict[str, Any]:
    return {"tags": list(tags)} if tags else {}


def _lines(text: str) -> list[str]:
    return text.splitlines(keepends=True)
