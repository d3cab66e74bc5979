"""Texts of unknown origin as one line that a terminal, an XML or a JSON file can hold: nothing in it does anything."""

from __future__ import annotations

import re

from theorylib.errors import shortened

MOST = 3000  # signs of a line; of a longer one the middle is left out
# Control characters (C0, DEL, C1), what changes the direction of all that follows, line and paragraph separators, lone
# surrogates, and U+FFFE and U+FFFF, which are no characters (Unicode 15, chapter 23). XML 1.0 takes all others.
_ACTS = re.compile("[\x00-\x1f\x7f-\x9f\u200e\u200f\u061c\u2028-\u202e\u2066-\u2069\ud800-\udfff\ufffe\uffff]")


def legible(text: object, most: int = MOST) -> str:
    r"""The text (or a value's) on one line, with \x1b and the like for what would act, cut to about `most` signs.

    >>> print(legible("a\x1b[2Jb"))
    a\x1b[2Jb
    """
    return _ACTS.sub(lambda match: repr(match[0])[1:-1], shortened(str(text), most))
