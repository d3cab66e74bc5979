"""Chords of a grid that is known: bars and their halves weighed against each other, and what overtones must not add.

Logs and sounds are made of numbers here; the chords that they hold are written beside them by their notes.
"""

from __future__ import annotations

import numpy as np
import pytest

from workbook.listen.bars import bar_guesses, witnesses
from workbook.listen.chord_model import CLASSES, QUALITIES, class_scores, log_likelihoods, stretches, trained
from workbook.listen.decoding import CHANGE, CHANGE_IN_BAR, Choice, averaged, decoded
from workbook.listen.recording import of_samples
from workbook.listen.spectra import FRAMES_A_SECOND, LOWEST_MIDI, NOTES_RATE, SEMITONES, Flux, Notes, notes_of

RATE = 22_050
C7, F7, G7 = (QUALITIES.index("7") * 12 + root for root in (0, 5, 7))


def logs(*likely: dict[int, float]) -> np.ndarray:
    """A row for each: the logarithms given, all other classes at -10."""
    rows = np.full((len(likely), CLASSES), -10.0)
    for row, said in zip(rows, likely, strict=True):
        for chord, value in said.items():
            row[chord] = value
    return rows


def chords(halves: np.ndarray, bars: np.ndarray) -> list[int]:
    return [one.chord for one in decoded(halves, bars, np.zeros(CLASSES))]


def test_a_bar_that_is_heard_as_one_chord_is_one() -> None:
    """The second half of a walking bar is like another chord; over the bar the first one stands."""
    halves = logs({C7: -0.1}, {F7: -0.6, C7: -3.0})
    assert chords(halves, logs({C7: -0.2})) == [C7, C7]
    assert chords(halves, logs({C7: -8.0})) == [C7, F7], "where the whole bar is like no chord, it is two"


def test_two_chords_in_a_bar_stay_two_and_lead_on() -> None:
    halves = logs({C7: -0.1}, {F7: -0.1}, {F7: -0.1}, {G7: -0.1})
    assert chords(halves, logs({C7: -4.0, F7: -4.0}, {F7: -5.0, G7: -5.0})) == [C7, F7, F7, G7]


def test_the_first_chord_of_a_bar_says_where_it_came_from() -> None:
    """F7 a little less like than C7, and then F7 with G7 in its bar: to stay is cheaper than to change."""
    near = -CHANGE * 0.4
    halves = logs({C7: 0.0, F7: near}, {C7: 0.0, F7: near}, {F7: 0.0}, {G7: 0.0})
    assert chords(halves, logs({C7: 0.0, F7: near}, {C7: -8.0})) == [F7, F7, F7, G7]


def test_a_change_costs_more_than_a_little_likeness() -> None:
    near = CHANGE * 0.8
    halves = logs({C7: 0.0}, {C7: 0.0}, {F7: 0.0, C7: -near / 2}, {F7: 0.0, C7: -near / 2})
    assert chords(halves, logs({C7: 0.0}, {F7: 0.0, C7: -near / 2})) == [C7] * 4
    far = CHANGE + 0.2
    assert chords(halves, logs({C7: 0.0}, {F7: 0.0, C7: -far / 2}))[2:] == [F7, F7]
    inside = CHANGE_IN_BAR * 0.5
    assert chords(logs({C7: 0.0}, {F7: 0.0, C7: -inside}), logs({C7: -inside / 2})) == [C7, C7]


def test_bars_that_are_not_divided_have_one_chord_each() -> None:
    rows = logs({C7: 0.0}, {F7: 0.0}, {F7: 0.0})
    assert chords(rows, rows) == [C7, F7, F7]


def test_how_sure_a_chord_is_its_own_half_bar_says() -> None:
    halves = logs({C7: -0.1}, {C7: -0.6, F7: -0.9})
    plain, doubted = decoded(halves, logs({C7: -0.01}), np.zeros(CLASSES))
    assert (plain.chord, doubted.chord) == (C7, C7)
    assert plain.confidence > 0.9 > 0.6 > doubted.confidence


def test_a_lead_is_over_all_others_and_makes_the_confidence() -> None:
    rows = logs({C7: np.log(0.8), F7: np.log(0.1), G7: np.log(0.05)})
    (one,) = decoded(rows, rows, np.zeros(CLASSES))
    assert one.rivals == (F7, G7)
    assert one.lead == pytest.approx(np.log(0.8 / (0.15 + (CLASSES - 3) * np.exp(-10))))
    sure = [Choice(C7, lead, ()).confidence for lead in (-2.0, 0.0, 2.0, 8.0)]
    assert sure == sorted(sure)
    weights = trained()
    assert Choice(C7, 0.0, ()).confidence == pytest.approx(1 / (1 + np.exp(-weights.level)))


def test_repeats_that_are_played_alike_count_little_more_than_one() -> None:
    rows = logs(*[{C7: -1.0}, {F7: -1.0}] * 4)
    twice = averaged(rows, 2)
    assert twice[0, C7] == pytest.approx(-np.sqrt(2))
    assert averaged(rows, 0) is rows


def saw(*midis: int, seconds: float = 2.0, partials: int = 12) -> np.ndarray:
    """Notes with all their partials, the n-th at 1/n: the seventh lies 31 cents under a minor seventh."""
    time = np.arange(int(seconds * RATE)) / RATE
    hz = [440 * 2 ** ((midi - 69) / 12) for midi in midis]
    wave = sum(np.sin(2 * np.pi * one * n * time) / n for one in hz for n in range(1, partials + 1))
    return 0.3 * wave / np.abs(wave).max()


def test_a_low_note_takes_its_overtones_with_it() -> None:
    """E1 is heard through the bass's window alone; what the treble's has at its fifth partial, G#3, is no note."""
    treble, bass = np.zeros((60, SEMITONES)), np.zeros((60, SEMITONES))
    treble[:, 56 - LOWEST_MIDI], bass[:, 28 - LOWEST_MIDI] = 0.2, 1.0
    (under,), (alone,) = (stretches(Notes(treble, low, 0.0), [0.0, 2.0], 0.5) for low in (bass, 0 * bass))
    assert under[:12] == pytest.approx(0, abs=1e-9)
    assert alone[8] == pytest.approx(1, abs=1e-3), "without a bass under it it is one"


@pytest.mark.parametrize("begins", [0, 1])
def test_where_each_half_bar_has_its_chord_dominants_tell_which_comes_first(begins: int) -> None:
    """Dm7 G7 | Cm7 A7 |, heard from its first or from its second half bar on: V goes to I over the bar line."""
    held = [(38, 53, 57, 60), (43, 53, 59, 62), (36, 51, 55, 58), (33, 55, 61, 64)] * 5
    beat, chords_ = 0.5, held[begins:]
    treble, bass = np.zeros((2, round(2 * beat * len(chords_) * NOTES_RATE) + 2, SEMITONES))
    for number, (low, *high) in enumerate(chords_):
        frames = slice(*(round(2 * beat * at * NOTES_RATE) for at in (number, number + 1)))
        bass[frames, low - LOWEST_MIDI] = 1.0
        for midi in high:
            treble[frames, midi - LOWEST_MIDI] = 1.0
    beats = beat * np.arange(2 * len(chords_))
    silent = Flux(*np.zeros((3, round((beats[-1] + 1) * FRAMES_A_SECOND))))
    first, second = bar_guesses(witnesses(Notes(treble, bass, 0.0), silent, beats), (4,))[:2]
    assert (first.first, second.first) == (2 * begins, 2 - 2 * begins)
    assert first.worth - second.worth > 2.5, "by how much the sound changes it would be 1.3 to 1.8"


@pytest.mark.parametrize(("midis", "chord"), [
    ((31, 55, 59, 62), (7, "")), ((31, 55, 59, 65), (7, "7")), ((31, 55, 59, 62, 65), (7, "7")),
    ((31, 55, 59, 62, 66), (7, "maj7")), ((33, 57, 60, 64), (9, "m")), ((33, 57, 60, 64, 67), (9, "m7")),
    ((35, 57, 62, 65), (11, "m7b5")), ((40, 56, 59, 64), (4, "")), ((29, 53, 57, 60), (5, "")),
])
def test_a_chord_rich_in_overtones_is_what_its_notes_are(midis: tuple[int, ...], chord: tuple[int, str]) -> None:
    notes = notes_of(of_samples(saw(*midis), RATE))
    (row,) = log_likelihoods(stretches(notes, [0.0, 2.0], 0.5))
    best = int(row.argmax())
    assert (best % 12, QUALITIES[best // 12]) == chord


def test_a_chord_moved_by_semitones_moves_its_class_alone() -> None:
    """All roots share their weights: values turned by a tone have the scores of the root a tone above."""
    values = np.random.default_rng(1).random((3, 84))
    turned = np.roll(values.reshape(3, 7, 12), 2, axis=2).reshape(3, 84)
    weights = trained().by_quality
    before = class_scores(values, weights).reshape(3, len(QUALITIES), 12)
    assert np.allclose(np.roll(before, 2, axis=2).reshape(3, CLASSES), class_scores(turned, weights))


def test_what_lies_a_seventh_partial_beside_its_note_counts_little() -> None:
    """343 Hz over a low G is its seventh partial; 349.2 Hz is F."""
    time = np.arange(2 * RATE) / RATE

    def strength(hz: float) -> float:
        under = np.sin(2 * np.pi * 196.0 * time) + np.sin(2 * np.pi * 392.0 * time)
        notes = notes_of(of_samples(0.2 * under + 0.2 * np.sin(2 * np.pi * hz * time), RATE))
        return float(notes.treble[5:-5, 65 - 24].mean())

    assert strength(343.0) < 0.15 * strength(349.23)
