"""Fuzzed texts at every door: whatever is typed, only our own errors come out, which name what is wrong."""

from __future__ import annotations

import os
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.doors import DOORS, Door

from theorylib.errors import VampError

EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))
TEXTS, SLOW_TEXTS = (6000, 400) if EXPLORE else (120, 12)  # mutated texts a door
DRAWN = 2000 if EXPLORE else 25                            # texts that hypothesis draws
# What a mutation puts in: words of every door, and what breaks readers.
WORDS = (
    *"ABCDEFGabcdefg#b♯♭𝄪/|[]{}()<>:;,.%*_`~^&!?=+-–\\\"'$@0123456789 \n\t\r\0\x1b\x85\u2028\ufeff\u200b\u00a0²٣ⅷ",
    "\ud800", "😀", "李", "नमस्ते", "ﷺ", "N.C.", "maj7", "sus4", "add9", "(b9", "|:", ":|", " x3", " x99", "1.", "2,3.",
    "%", "/ ", "[A]", "{=", "=}", " over ", " gives ", " is ", " of ", " in ", " has ", "mode 2", "fret ", "string ",
    "bent 9", "99999", "1e99999999", "1/0", "-1", "nan", "NaN", "Infinity", "1e400", "9" * 5000, "null", "true", "[]",
    "{}", "[[", '""', "name,", '"', ";", "title", "key: ", "tempo: ", "meter: ", "0/0", "33/4", "4/3", "[[level]]",
    "needs", "a.a.a", "```", "![](", "[a](b", "<b>", "&#0;", "&x;", "<!DOCTYPE a [", "]]>", "on beat 1/0", "of bar 9",
    "capo 40", "E2 ", "B#9 ", "C-99",
)


def test_half_a_character_is_refused_with_its_cell() -> None:
    from workbook.handouts.tree import markdown_blocks

    with pytest.raises(VampError, match=r"cell 3: .*half a character"):
        markdown_blocks("[a](https://b.example/\ud800)", "cell 3")


def mutated(text: str, chance: Random) -> str:
    """A text with one to four things done to it: taken out, doubled, moved, put in."""
    for _ in range(chance.randint(1, 4)):
        start = chance.randint(0, len(text))
        end = min(len(text), start + chance.choice((1, 1, 2, 5, 20)))
        piece, what = text[start:end], chance.randrange(5)
        if what == 0:
            text = text[:start] + text[end:]
        elif what == 1:
            text = text[:end] + piece * chance.choice((1, 2, 40)) + text[end:]
        elif what == 2:
            there = chance.randint(0, len(text))
            text = text[:there] + piece + text[there:]
        else:
            word = chance.choice(WORDS)
            text = text[:start] + word + text[end if what == 3 else start:]
    return text


def refused_or_taken(door: Door, text: str) -> bool:
    """Whether the door took the text; anything but our own error is a failure of the test."""
    try:
        door.enter(text)
    except VampError as error:
        said = str(error)
    except Exception as error:
        raise AssertionError(f"{type(error).__name__}: {error} for {text!r:.400}") from error
    else:
        return True
    assert said.strip()
    return False


@pytest.mark.parametrize("name", DOORS)
def test_a_door_takes_its_own_texts(name: str) -> None:
    """Else the attacks below would knock at a door that is always shut."""
    for text in DOORS[name].takes:
        if not (name == "claim" and ("N.C." in text or "," in text)):
            assert refused_or_taken(DOORS[name], text), text


@pytest.mark.parametrize("name", DOORS)
def test_only_our_own_errors_come_out(name: str) -> None:
    door = DOORS[name]
    chance = Random(f"{name} {os.environ.get('VAMPBOOK_SEED', 1)}")
    for word in WORDS[::4] if door.slow and not EXPLORE else WORDS:
        refused_or_taken(door, word)
    taken = sum(refused_or_taken(door, mutated(chance.choice(door.takes), chance))
                for _ in range(SLOW_TEXTS if door.slow else TEXTS))
    assert taken or door.slow  # some mutations leave a text whole


@pytest.mark.parametrize("name", [name for name, door in DOORS.items() if not door.slow])
@settings(max_examples=DRAWN, derandomize=not EXPLORE)
@given(st.text(st.one_of(st.characters(), st.sampled_from([word for word in WORDS if len(word) == 1]))))
def test_no_drawn_text_breaks_a_door(name: str, text: str) -> None:
    refused_or_taken(DOORS[name], text)
