"""What each player makes of a plan: strokes, notes and chords as hits, swung, with their touch.

Each part has its own chance, so that leaving one out changes nothing in the others.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from random import Random

from theorylib.names.chords import Chord

from . import bassist, comper, drummer
from .arrangement import Arrangement
from .parts import BASS, COMP, DRUMS, PAD, Hit
from .style import DRUM_KEYS, Style
from .timing import swung
from .touch import Touch
from .voice_leading import led

_DRUM_BEATS, _DEAD_BEATS = Fraction(1, 8), Fraction(1, 10)
_BASS, _BASS_DEAD, _STRONG = 90, 58, 6           # velocities; a note on a change is stronger
_ACCENTED, _PLAIN, _PAD = 76, 64, 50
STRUM_MS = 7                                     # from one string to the next (common practice, no source)
_SEVENTHS = frozenset({"7", "b7", "bb7", "6"})   # what a chord has to which colours may be added


@dataclass(frozen=True, slots=True)
class Score:
    """What a player has before him: the plan, the groups of the bar, each chord's scale."""

    plan: Arrangement
    groups: tuple[int, ...]
    scales: Mapping[Chord, frozenset[int]]

    def touch(self, style: Style, chance: Random) -> Touch:
        return Touch(self.plan, style, self.groups, chance)

    def swung(self, beat: Fraction, style: Style, part: str) -> Fraction:
        return swung(beat, self.plan.chart, share=style.swing.get(part, Fraction(1)))


def drums(score: Score, style: Style, chance: Random) -> Iterator[Hit]:
    touch = score.touch(style, chance)
    for stroke in drummer.strokes(score.plan, style, score.groups, chance):
        yield Hit(DRUMS, score.swung(stroke.beat, style, "drums"), _DRUM_BEATS, DRUM_KEYS[stroke.drum],
                  touch.velocity(stroke.beat, stroke.velocity), touch.late_ms(stroke.drum))


def bass(score: Score, style: Style, chance: Random) -> Iterator[Hit]:
    touch = score.touch(style, chance)
    for tone in bassist.bass_line(score.plan, style, score.groups, score.scales, chance):
        start = score.swung(tone.beat, style, "bass")
        end = score.swung(tone.beat + tone.length_beats, style, "bass")
        length = min(_DEAD_BEATS, end - start) if tone.dead else end - start
        usual = _BASS_DEAD if tone.dead else _BASS + (_STRONG if tone.strong else 0)
        yield Hit(BASS, start, length, tone.midi, touch.velocity(tone.beat, usual), touch.late_ms("bass"))


def comping(score: Score, style: Style, chance: Random) -> Iterator[Hit]:
    touch, voicings = score.touch(style, chance), _voicings(score, style)
    for one in comper.struck(score.plan, style, score.groups, chance):
        start = score.swung(one.beat, style, "comp")
        length = score.swung(one.beat + one.length_beats, style, "comp") - start
        velocity, late = touch.velocity(one.beat, _ACCENTED if one.accent else _PLAIN), touch.late_ms("comp")
        voicing = voicings[one.span.event.chord, one.span.event.onset_beats]
        for string, midi in enumerate(_as_struck(voicing, one, style)):
            strum = STRUM_MS * string if style.comp_voice == "guitar" else 0
            yield Hit(COMP, start, length, midi, velocity, late + strum)


def _as_struck(voicing: tuple[int, ...], one: comper.Struck, style: Style) -> tuple[int, ...]:
    """The notes in the order of the hand: a guitar's up strokes, off the beat, begin with the highest."""
    up = style.comp_voice == "guitar" and one.beat.denominator > 1
    return voicing[::-1] if up else voicing


def pad(score: Score, style: Style, chance: Random) -> Iterator[Hit]:
    voicings = _voicings(score, style)
    for span in score.plan.spans:
        for midi in voicings[span.event.chord, span.event.onset_beats]:
            yield Hit(PAD, span.start_beats, span.end_beats - span.start_beats, midi, _PAD)


def _voicings(score: Score, style: Style) -> Mapping[tuple[Chord, Fraction], tuple[int, ...]]:
    """Of each chord of the form, and of the ending, its voicing."""
    events = list(dict.fromkeys((span.event.chord, span.event.onset_beats) for span in score.plan.spans))
    chords = [chord for chord, _ in events]
    added = [_colours(chord, score.scales) if style.voicing == "rootless" else () for chord in chords]
    return dict(zip(events, led(chords, colours=added), strict=True))


def _colours(chord: Chord, scales: Mapping[Chord, frozenset[int]]) -> tuple[str, ...]:
    """The 9th, and on a dominant the 13th, where the chord has a 7th or 6th and its scale holds them."""
    degrees = set(chord.degrees)
    if chord.root is None or not degrees & _SEVENTHS or degrees & {"b9", "#9", "b5", "#5", "b13"}:
        return ()
    root, scale = chord.root.pitch_class, scales.get(chord, frozenset())
    wanted = ["9"] if (root + 2) % 12 in scale else []
    if {"3", "b7"} <= degrees and (root + 9) % 12 in scale and wanted:
        wanted.append("13")
    return tuple(wanted)


Player = Callable[[Score, Style, Random], Iterator[Hit]]
# Of each part its player, and which style of the band it plays.
PLAYERS: dict[str, tuple[Player, str]] = {DRUMS: (drums, "drums"), BASS: (bass, "bass"), COMP: (comping, "comp"),
                                          PAD: (pad, "comp")}
