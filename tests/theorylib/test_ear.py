"""Tasks for the ear: what sounds is what the answer says, worked out from pitches alone; stored text is checked."""

from __future__ import annotations

import json
from random import Random

import pytest

from theorylib import Tuning
from theorylib.levels import LEVELS
from theorylib.practice.ear import ear_tasks
from theorylib.practice.ear_text import KINDS, EarError, EarTask, ear_text, read_ear_text

CHARTS = ("| Gm7 | C9 |", "| Dm9 |", "| E5 | C5 | G5 | D5 |", "| Am7 | Am7/G | Fmaj7 | E7#9 |",
          "| A7 | D7 | A7 | E7alt |", "meter: 3/4\n| Em | C | Am | B7b9 |", "| Csus4 | C | Fmaj7#11 | Bm7b5 |")
# semitones above the root: what a degree may be called there (common practice).
DEGREES = {0: {"1"}, 1: {"♭9"}, 2: {"9"}, 3: {"♭3", "♯9"}, 4: {"3"}, 5: {"11", "4"}, 6: {"♯11", "♭5"}, 7: {"5"},
           8: {"♭13", "♯5"}, 9: {"13", "6"}, 10: {"♭7"}, 11: {"7"}}
# what a kind of chord is called here: its semitones above the root, typed by hand (common practice).
CHORDS = {"bright: a major chord": {0, 4, 7}, "dark: a minor chord": {0, 3, 7},
          "neither: a power chord, without a 3rd": {0, 7}, "maj7": {0, 4, 7, 11}, "m7": {0, 3, 7, 10},
          "7": {0, 4, 7, 10}, "7♭9": {0, 4, 7, 10, 1}, "7♯9": {0, 4, 7, 10, 3}, "ø7": {0, 3, 6, 10},
          "mMaj7": {0, 3, 7, 11}, "9": {0, 4, 7, 10, 2}, "m9": {0, 3, 7, 10, 2}}
NAMES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def pitch_class(name: str) -> int:
    return (NAMES[name[0]] + name.count("♯") - name.count("♭")) % 12


def struck(task: EarTask) -> list[list[int]]:
    """The pitches of each moment, from the lowest."""
    moments = sorted({sound.onset_beats for sound in task.sounds})
    return [sorted(sound.midi for sound in task.sounds if sound.onset_beats == moment) for moment in moments]


def all_tasks() -> list[tuple[str, str, EarTask]]:
    chance = Random(7)
    found = []
    for changes in CHARTS:
        for level in LEVELS:
            for seed in chance.sample(range(1000), 4):
                found += [(changes, level, task) for task in ear_tasks(changes, level, 5, seed=seed)]
    return found


TASKS = all_tasks()


def test_every_kind_is_asked_at_every_level() -> None:
    for level in LEVELS:
        assert {task.kind for changes, found, task in TASKS if found == level} == set(KINDS)


def test_a_degree_is_what_it_sounds() -> None:
    told = 0
    for _, _, task in TASKS:
        if task.kind == "degree":
            chord, (note,) = struck(task)
            assert task.answer in DEGREES[(note - chord[0]) % 12], task
            assert note > chord[0] + 11, "above the chord's root"
            assert len(set(task.choices)) == len(task.choices) > 1
            told += 1
    assert told > 100


def test_a_kind_of_chord_is_what_it_sounds() -> None:
    for _, _, task in TASKS:
        if task.kind == "quality" and task.answer in CHORDS:
            (chord,) = struck(task)
            assert {(midi - chord[0]) % 12 for midi in chord} == CHORDS[task.answer], task
            assert len(chord) == len(CHORDS[task.answer])
            assert chord[-1] - chord[0] > (12 if "9" in task.answer else 6), "a 9th lies above the octave"
    assert len({task.answer for _, _, task in TASKS if task.kind == "quality"}) > 8


def test_a_change_is_a_change() -> None:
    for _, level, task in TASKS:
        if task.kind == "change":
            one, two = struck(task)
            if task.answer in ("it stays", "it changes"):
                assert (one == two) == (task.answer == "it stays"), task
            else:
                first, second = (name.strip() for name in task.answer.split("–"))
                assert one[0] % 12 == pitch_class(first[:2] if first[1:2] in ("♯", "♭") else first[:1])
                assert second != first
                assert level != "beginner"


def test_an_echo_and_a_sung_note_are_told_as_they_sound() -> None:
    for _, _, task in TASKS:
        if task.kind == "echo":
            assert [pitch_class(name[:-1]) for name in task.answer.split()] == [
                midi % 12 for (midi,) in struck(task)], task
            assert task.asks.startswith(f"It begins on {task.answer.split()[0]}.")
        if task.kind == "sing":
            name, _, place = task.answer.partition(", ")
            goal = max(sound.midi for sound in task.after)
            assert pitch_class(name) == goal % 12
            string, fret = (int(word) for word in place.replace("open", "fret 0").split() if word.isdigit())
            assert Tuning.parse("standard").midi(string, fret) == goal, task


def test_an_echo_lies_within_an_octave_above_its_first_note() -> None:
    """What a voice without training reaches from anywhere (common practice, no source)."""
    for _, level, task in TASKS:
        if task.kind == "echo":
            heights = [midi - struck(task)[0][0] for (midi,) in struck(task)]
            assert set(heights) <= set(range(13)), (level, task)


def test_what_is_asked_does_not_tell_the_answer() -> None:
    for _, _, task in TASKS:
        if task.kind in ("quality", "change"):
            assert task.answer not in task.asks


def test_a_13th_can_be_asked_for_and_power_chords_are_told_from_chords_with_a_3rd() -> None:
    asked = {choice for seed in range(12) for task in ear_tasks("| A13 |", "advanced", seed=seed)
             if task.kind == "degree" for choice in task.choices}
    assert "13" in asked
    kinds = {task.choices for level in LEVELS for task in ear_tasks("| D5 | F5 |", level) if task.kind == "quality"}
    assert kinds == {("bright: a major chord", "dark: a minor chord", "neither: a power chord, without a 3rd")}


def test_a_note_with_an_odd_name_is_told_with_its_plain_one() -> None:
    """C flat is B (equal temperament, ISO 16)."""
    told = [task.answer + task.plays for seed in range(20) for task in ear_tasks("| Db7 |", "advanced", seed=seed)]
    assert any("C♭ (sounds as B)" in text for text in told)


def test_the_same_changes_give_the_same_tasks_and_another_seed_others() -> None:
    assert ear_tasks(CHARTS[0], "advanced", 5) == ear_tasks(CHARTS[0], "advanced", 5)
    assert ear_tasks(CHARTS[0], "advanced", 5) != ear_tasks(CHARTS[0], "advanced", 5, seed=2)


def test_the_text_reads_back() -> None:
    every = tuple(task for _, _, task in TASKS[:30])
    assert read_ear_text(ear_text(every)) == every


def first(**fields: object) -> dict[str, object]:
    """The stored tasks with some fields of the first one changed."""
    data = json.loads(ear_text(ear_tasks(CHARTS[0], "beginner", 3)))
    data["tasks"][0] |= fields
    return data


@pytest.mark.parametrize(("data", "said"), [
    (first() | {"version": 9}, "no tasks"), (first() | {"tasks": [1]}, "no task"),
    (first() | {"tasks": [{}] * 50}, "no tasks"), (first(more=1), "no task"),
    (first(kind="noise"), "kind"), (first(asks=""), "asks"), (first(asks="a\nb"), "asks"), (first(sounds=[]), "sounds"),
    (first(sounds=[["0", "1", 300]]), "sounds"), (first(sounds=[["0", "0", 60]]), "sounds"),
    (first(sounds=[["0", "1e9", 60]]), "sounds"), (first(answer="never"), "answer"), (first(plays=3), "plays"),
])
def test_text_that_is_none_is_refused_with_its_field(data: dict[str, object], said: str) -> None:
    with pytest.raises(EarError, match=said):
        read_ear_text(json.dumps(data))


def test_an_echo_does_not_go_to_and_fro() -> None:
    """Three notes of which the first comes again at once happen only where there is no other way."""
    for seed in range(10):
        for task in ear_tasks("| Gm7 | C9 | Fmaj7 |", "advanced", seed=seed):
            if task.kind == "echo":
                midis = [sound.midi for sound in task.sounds]
                assert not any(one == three for one, three in zip(midis[1:], midis[3:], strict=False))
