"""A take in a teacher's words: what went well, then at most three findings with their bar, what to do, and a tempo."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from .measures import Measures, measured
from .said import COUNTED, SAID, WAYS, WELL, counted
from .take import MISSING, OK, WRONG, NoteHeard, Take
from .thresholds import THRESHOLDS, practice_tempo

MOST = 3
FEWEST_TIMED, FEWEST_IN_BAR = 4, 3  # notes of which a timing is told: of the line, of a bar
WRONG_WEIGHT, MISSING_WEIGHT = 2.0, 1.6  # of one such note, beside what is worth saying of time
NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")


@dataclass(frozen=True, slots=True)
class Finding:
    """`kind` is a row of THRESHOLDS, `bar` from 1 (None for the whole), `weight` how much it matters beside others."""

    kind: str
    bar: int | None
    words: str
    to_do: str
    tempo: int
    weight: float


def findings(take: Take) -> tuple[Finding, ...]:
    """At most MOST findings, the weightiest first; none where nothing is worth saying."""
    found = sorted(_all(take, measured(take)), key=lambda one: -one.weight)
    kept: list[Finding] = []
    for one in found:
        said = {(other.kind in ("uneven", "bar")) == (one.kind in ("uneven", "bar")) and other.bar == one.bar
                for other in kept if other.kind in ("uneven", "bar") or other.kind == one.kind}
        if not any(said):
            kept.append(one)
    return tuple(kept[:MOST])


def went_well(take: Take) -> str:
    """One sentence, always true of the take: the best that can be said of it."""
    numbers = measured(take)
    count, right = len(take.known), numbers.counts[OK]
    bends = [abs(one) for one in numbers.bend_off_cents]
    if right == len(take.notes):
        said = WELL["all"].format(count=count)
    else:
        said = WELL["some"].format(right=right, count=count)
    even = numbers.whole.deviation_ms
    if numbers.whole.count >= FEWEST_TIMED and even <= THRESHOLDS["uneven"].worth_saying:
        said += WELL["even"].format(ms=f"{even:.0f}")
    elif bends and max(bends) <= THRESHOLDS["bend"].just_noticed:
        said += ", and every bend arrives in tune"
    elif numbers.by_bar and numbers.whole.count >= FEWEST_TIMED:
        bar, best = min(numbers.by_bar.items(), key=lambda one: abs(one[1].mean_ms) + one[1].deviation_ms)
        said += WELL["steadiest"].format(bar=int(bar) + 1, ms=f"{best.deviation_ms:.0f}")
    return said + "."


def note_name(midi: int) -> str:
    """A pitch that was heard: it is named simply, for nobody wrote it."""
    return f"{NAMES[midi % 12]}{midi // 12 - 1}"


def _all(take: Take, numbers: Measures) -> Iterator[Finding]:
    tempo = 60 / take.expected.beat_seconds

    def found(kind: str, size: float, bar: int | None, words: str = "", to_do: str = "", **filled: object) -> Finding:
        weight = size / THRESHOLDS[kind].worth_saying
        if kind in SAID:
            words, to_do = SAID[kind][0].format(**filled), SAID[kind][1]
        return Finding(kind, bar, words, to_do, practice_tempo(kind, tempo), weight)

    def measured_as(kind: str, size: float, bar: int | None) -> Finding:
        way = WAYS.get(kind, ("", ""))[size < 0]
        return found(kind, abs(size), bar, ms=f"{abs(size):.0f}", way=way)

    yield from _notes(take, found)
    yield from _times(take, numbers, measured_as)
    yield from _pitches(take, found)
    spread = numbers.loudness_deviation_db
    if spread is not None and spread > THRESHOLDS["dynamics"].worth_saying:
        yield found("dynamics", spread, None, f"The notes differ in loudness by {spread:.1f} dB",
                    "Play it with one stroke size, and listen for the notes that jump out")


def _notes(take: Take, found: Any) -> Iterator[Finding]:
    wrong, missing = take.of(WRONG), () if take.bleeds else take.of(MISSING)
    if wrong:
        bar = _most_in(wrong)
        heard = ", ".join(f"{note_name(one.heard_midi)} for {note_name(one.expected.midi)}"
                          for one in wrong if one.heard_midi is not None and one.expected.bar == bar)
        count = counted(len(wrong), COUNTED["wrong"])
        yield found("wrong", WRONG_WEIGHT * len(wrong), bar + 1, count=count, heard=heard)
    if missing:
        bar = _most_in(missing)
        here = sum(one.expected.bar == bar for one in missing)
        count = counted(len(missing), COUNTED["missing"])
        yield found("missing", MISSING_WEIGHT * len(missing), bar + 1, count=count, here=here)
    if len(take.extras) >= THRESHOLDS["extra"].worth_saying:
        bar = int(take.extras[0] / (take.expected.beat_seconds * take.expected.bar_beats))
        yield found("extra", float(len(take.extras)), bar + 1,
                    f"{len(take.extras)} strokes besides the line: open strings or noises",
                    "Damp the strings that you do not play")


def _times(take: Take, numbers: Measures, found: Any) -> Iterator[Finding]:
    whole = numbers.whole
    if whole.count < FEWEST_TIMED:
        return
    if take.calibrated and abs(whole.mean_ms) > THRESHOLDS["late"].worth_saying:
        yield found("late", whole.mean_ms, None)
    if whole.deviation_ms > THRESHOLDS["uneven"].worth_saying:
        yield found("uneven", whole.deviation_ms, None)
    worst, timing = max(numbers.by_bar.items(), key=lambda one: abs(one[1].mean_ms))
    away = timing.mean_ms - whole.mean_ms
    if abs(away) > THRESHOLDS["bar"].worth_saying and timing.count >= FEWEST_IN_BAR:
        yield found("bar", away, int(worst) + 1)
    swing = numbers.off_less_on_ms
    if swing is not None and abs(swing) > THRESHOLDS["off-beats"].worth_saying:
        yield found("off-beats", swing, None)
    if abs(numbers.drift_ms) > THRESHOLDS["drift"].worth_saying:
        yield found("drift", numbers.drift_ms, None)


def _pitches(take: Take, found: Any) -> Iterator[Finding]:
    bends = [(note, bend) for note in take.of(OK) for bend in note.bends]
    if bends:
        note, bend = max(bends, key=lambda one: abs(one[1].off_cents))
        off = bend.off_cents
        if abs(off) > THRESHOLDS["bend"].worth_saying:
            way = "short of" if off < 0 else "beyond"
            yield found("bend", abs(off), note.expected.bar + 1, f"The bend stops {abs(off):.0f} cents {way} its note",
                        "Play the target note first on its own fret, then bend until it sounds the same")
    for note in take.of(OK):
        wave = note.vibrato
        if wave is None:
            continue
        bar = note.expected.bar + 1
        if wave.rate_hz < THRESHOLDS["vibrato slow"].worth_saying:
            yield found("vibrato slow", THRESHOLDS["vibrato slow"].worth_saying, bar,
                        f"The vibrato is slow: {wave.rate_hz:.1f} swings a second", "Count four swings to a beat")
        elif wave.rate_hz > THRESHOLDS["vibrato fast"].worth_saying:
            yield found("vibrato fast", wave.rate_hz, bar,
                        f"The vibrato is nervous: {wave.rate_hz:.1f} swings a second", "Move the wrist, not the finger")
        if wave.width_cents < THRESHOLDS["vibrato narrow"].worth_saying:
            yield found("vibrato narrow", THRESHOLDS["vibrato narrow"].worth_saying, bar,
                        f"The vibrato is narrow: {wave.width_cents:.0f} cents", "Pull wider and slower first")


def _most_in(notes: tuple[NoteHeard, ...]) -> int:
    """The bar (from 0) that holds the most of them, the earlier of two."""
    bars = [one.expected.bar for one in notes]
    return min(set(bars), key=lambda bar: (-bars.count(bar), bar))
