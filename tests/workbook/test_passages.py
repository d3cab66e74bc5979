"""The words that say which notes of a file are meant: each by itself, all together, and what cannot be said."""

from __future__ import annotations

import pytest

from theorylib.errors import MusicFileError
from workbook.exchange.passages import EXAMPLE, WHOLE, Passage, as_passage


@pytest.mark.parametrize(("words", "meant"), [
    ("", WHOLE),
    ("bars 5-8", Passage(bars="5-8")),
    ("bars 7", Passage(bars="7")),
    ("part 2", Passage(part=2)),
    ("part Lead guitar", Passage(part="Lead guitar")),
    (" staff 2 ,voice 1", Passage(staff=2, voice="1")),
    ("octaves -1, top", Passage(octaves=-1, top=True)),
    ("grid 16th triplets", Passage(grid="16th triplets")),
    (EXAMPLE, Passage("5-8", "Lead", 1, "2", -1, True, "16ths")),
])
def test_words_mean_a_passage(words: str, meant: Passage) -> None:
    assert as_passage(words) == meant
    assert as_passage(meant) is meant


@pytest.mark.parametrize(("words", "said"), [
    ("bar 5-8", "“bar” says nothing of a passage; .*did you mean bars"),
    ("5-8", "“5-8” says nothing of a passage"),
    ("bars", "“bars” cannot be read"),
    ("top 2", "“top 2” cannot be read"),
    ("bars 1, bars 2", "“bars 2” cannot be read"),
    ("octaves 9", "“9” is no number of octaves"),
    ("octaves up", "“up” is no number of octaves"),
    ("grid 17ths", "“17ths” is no grid; .*did you mean 16ths"),
])
def test_what_means_none_is_refused_by_its_word(words: str, said: str) -> None:
    with pytest.raises(MusicFileError, match=said):
        Passage.parse(words)
