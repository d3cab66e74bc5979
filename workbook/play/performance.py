"""How a line sounds: each struck note with its swung time, loudness, voice and the path of its pitch.

Times are quarter-note beats of the chart's tempo after swing; `cents` are measured from the note's own pitch. Bends,
slides and vibrato are paths here, so that MIDI and audio play the same thing. Rates and shares are common practice, no
source; the vibrato rate lies in the 4 to 7 Hz that players use (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from theorylib.playing.lines import FEWEST_STRUMMED, Line, Mark, Note
from theorylib.playing.marks import MOVING

from .timing import swung, tuplet_pairs

LINE_VELOCITY, ACCENT_VELOCITY, GHOST_VELOCITY, LEGATO_VELOCITY, TAP_VELOCITY = 88, 108, 45, 72, 84
VIBRATO_HZ = 5.5
BEND_SECONDS = Fraction(9, 50)  # until a bend arrives (120 to 180 ms are usual), or half of its time if that is less
GROWN_SECONDS = 0.3             # until a vibrato has its whole width
LEGATO_SECONDS = Fraction(1, 125)  # in which a hammered or pulled note takes over from the one before
GLIDE_BEATS = Fraction(1, 4)  # a slide leaves its note so long before the next
GRACE_BEATS = Fraction(1, 12)
DEAD_BEATS = Fraction(1, 8)
STRUM_BEATS = Fraction(1, 64)  # from one string to the next of a strum: 9 ms at 100 quarter notes a minute
CLEAN, MUTED, HARMONICS = "clean", "muted", "harmonics"


@dataclass(frozen=True, slots=True)
class Heard:
    """What a mark does to the sound: how hard it is struck, its voice, its length or its pitch; or why it does nothing.

    `change` names what more than a number does: "shortened" to half, "cut" to DEAD_BEATS, "rings" on, "glides" from
    the note before, "moves" the pitch, "swings" it, a "small note" before, "struck" as hard as its value, "held" on.
    """

    velocity: int | None = None
    voice: str = ""
    change: str = ""
    unheard: str = ""


# Of several velocities and voices the first counts.
HEARD: dict[str, Heard] = {
    "dynamic": Heard(change="struck"), "accent": Heard(ACCENT_VELOCITY), "ghost": Heard(GHOST_VELOCITY),
    "tap": Heard(TAP_VELOCITY), "hammer": Heard(LEGATO_VELOCITY), "hammer from nowhere": Heard(LEGATO_VELOCITY),
    "pull": Heard(LEGATO_VELOCITY), "legato slide": Heard(LEGATO_VELOCITY, change="glides"),
    "slide": Heard(change="glides"), "palm mute": Heard(voice=MUTED), "dead": Heard(voice=MUTED, change="cut"),
    "harmonic": Heard(voice=HARMONICS), "tapped harmonic": Heard(voice=HARMONICS), "let ring": Heard(change="rings"),
    "staccato": Heard(change="shortened"), "tie": Heard(change="held"), "grace": Heard(change="small note"),
    "bend": Heard(change="moves"), "pre-bend": Heard(change="moves"), "release": Heard(change="moves"),
    "vibrato": Heard(change="swings"), "pick down": Heard(unheard="which way the pick goes is seen, not heard"),
    "pick up": Heard(unheard="which way the pick goes is seen, not heard"),
}
_SLURRED = frozenset({"hammer", "pull", "legato slide"})
_GLIDES = frozenset(kind for kind, heard in HEARD.items() if heard.change == "glides")


@dataclass(frozen=True, slots=True)
class Vibrato:
    """Swings from 0 up to `width_cents` and back, from `start_beats` on."""

    start_beats: Fraction
    width_cents: float


@dataclass(frozen=True, slots=True)
class Sound:
    """A note as it sounds. `path` holds (beat, cents) corners, an S between them, level outside; empty is level."""

    start_beats: Fraction
    end_beats: Fraction
    midi: int
    velocity: int
    voice: str = CLEAN
    string: int | None = None
    path: tuple[tuple[Fraction, Fraction], ...] = ()
    vibrato: Vibrato | None = None
    source: int = 0  # index of the line's note

    @property
    def bent(self) -> bool:
        return bool(self.path) or self.vibrato is not None

    def cents_at(self, beat: Fraction | float, tempo: float) -> float:
        """Cents above the note's pitch at a beat; `tempo` in quarter notes a minute sets the vibrato's pace."""
        level = 0.0
        if self.path:
            level = float(self.path[0][1]) if beat <= self.path[0][0] else float(self.path[-1][1])
            for (one, low), (two, high) in zip(self.path, self.path[1:], strict=False):
                if one <= beat < two:
                    level = float(low) + float(high - low) * eased(float((beat - one) / (two - one)))
        if self.vibrato is not None and beat > self.vibrato.start_beats:
            seconds = float(beat - self.vibrato.start_beats) * 60 / tempo
            grown = min(1.0, 0.5 + seconds / GROWN_SECONDS / 2)
            level += grown * self.vibrato.width_cents / 2 * (1 - math.cos(2 * math.pi * VIBRATO_HZ * seconds))
        return level


def eased(share: float) -> float:
    """How far a finger has pushed after a share of its time: slowly, quickly, slowly (an S of the third degree)."""
    return share * share * (3 - 2 * share)


def performance(line: Line) -> tuple[Sound, ...]:
    """The line's sounds in order of their start; a tied note lengthens the one before it."""
    straight = tuplet_pairs(line)
    sounds = [_sound(line, index, note, straight) for index, note in _struck(line)]
    sounds = _strummed(line, sounds)
    by_source = {sound.source: place for place, sound in enumerate(sounds)}
    graces: list[Sound] = []
    on_string: dict[int | None, list[int]] = {}  # places of the sounds so far, by string
    for place, sound in enumerate(sounds):
        note = line.notes[sound.source]
        before = line.joined_from(sound.source)
        if before in by_source and any(mark.kind in _GLIDES for mark in note.marks):
            was = by_source[before]
            sounds[was] = _gliding(sounds[was], sound.midi)
        grace = note.marked("grace")
        if grace is not None and sound.start_beats >= GRACE_BEATS:
            start = sound.start_beats - GRACE_BEATS
            graces.append(Sound(start, sound.start_beats, sound.midi + int(grace.value), sound.velocity, sound.voice,
                                sound.string, source=sound.source))
            sounds[place] = replace(sound, velocity=LEGATO_VELOCITY)
            for other in reversed(on_string.get(sound.string, [])):
                if sounds[other].end_beats <= start:  # and so all before it: a string sounds one note at a time
                    break
                if sounds[other].start_beats < start:
                    sounds[other] = replace(sounds[other], end_beats=start)
        on_string.setdefault(sound.string, []).append(place)
    return tuple(sorted([*sounds, *graces], key=lambda one: (one.start_beats, one.midi)))


def legato(line: Line) -> tuple[Sound, ...]:
    """The line's sounds for whoever renders them: a note hammered, pulled off or slid to goes on from the one before.

    It has no attack of its own: the sound before lasts on, and its pitch goes to the new note at once. After a vibrato,
    or in another voice, it is struck as `performance` has it.
    """
    found: list[Sound] = []
    place_of: dict[int, int] = {}  # the sound that holds a note, by the note's index
    for sound in performance(line):
        kinds = {mark.kind for mark in line.notes[sound.source].marks}
        before = line.joined_from(sound.source) if kinds & _SLURRED else None
        place = None if before is None else place_of.get(before)
        if place is None or found[place].vibrato is not None or found[place].voice != sound.voice:
            place_of[sound.source] = len(found)
            found.append(sound)
            continue
        found[place] = _taken_over(found[place], sound, LEGATO_SECONDS * line.chart.tempo / 60)
        place_of[sound.source] = place
    return tuple(found)


def _taken_over(one: Sound, two: Sound, moving_beats: Fraction) -> Sound:
    """The first sound, lasting on at the second's pitch."""
    by = Fraction(100 * (two.midi - one.midi))
    level = one.path[-1][1] if one.path else Fraction(0)
    arrives = min(two.start_beats + moving_beats, two.end_beats)
    path = (*(corner for corner in one.path if corner[0] < two.start_beats), (two.start_beats, level), (arrives, by),
            *((beat, by + cents) for beat, cents in two.path if beat > arrives))
    return replace(one, end_beats=two.end_beats, path=path, vibrato=two.vibrato)


def _strummed(line: Line, sounds: list[Sound]) -> list[Sound]:
    """The strings of a stroke one after the other, from the thick ones down and from the thin ones up."""
    stacks: dict[Fraction, list[int]] = {}
    for place, sound in enumerate(sounds):
        if line.notes[sound.source].marked("pick down") or line.notes[sound.source].marked("pick up"):
            stacks.setdefault(sound.start_beats, []).append(place)
    found = list(sounds)
    for stack in stacks.values():
        if len(stack) < FEWEST_STRUMMED:
            continue
        down = line.notes[sounds[stack[0]].source].marked("pick down") is not None
        by_string = sorted(stack, key=lambda place: sounds[place].string or 0, reverse=down)
        for order, place in enumerate(by_string):
            sound = sounds[place]
            late = min(order * STRUM_BEATS, (sound.end_beats - sound.start_beats) / 2)
            found[place] = replace(sound, start_beats=sound.start_beats + late)
    return found


def velocity(note: Note) -> int:
    """How hard a note is struck (MIDI velocity): its dynamic if it has one, else by its other marks."""
    dynamic = note.marked("dynamic")
    if dynamic is not None:
        return max(1, min(127, int(dynamic.value)))
    kinds = {mark.kind for mark in note.marks}
    return next((heard.velocity for kind, heard in HEARD.items() if heard.velocity and kind in kinds), LINE_VELOCITY)


def _struck(line: Line) -> Iterator[tuple[int, Note]]:
    """(index, note) of each note that is struck; what is tied to it lengthens it and adds its marks."""
    found: dict[int, Note] = {}
    for index, note in enumerate(line.notes):
        held = next((key for key in reversed(found) if found[key].pitch.midi == note.pitch.midi
                     and found[key].end_beats == note.onset_beats), None) if note.marked("tie") else None
        if held is None:
            found[index] = note
            continue
        first = found[held]
        later = tuple(replace(mark, at_beats=mark.at_beats + note.onset_beats - first.onset_beats)
                      for mark in note.marks if mark.kind != "tie")
        found[held] = replace(first, duration_beats=note.end_beats - first.onset_beats, marks=(*first.marks, *later))
    yield from found.items()


def _sound(line: Line, index: int, note: Note, straight: Collection[Fraction]) -> Sound:
    chart, end = line.chart, note.end_beats
    kinds = {mark.kind for mark in note.marks}
    changes = {HEARD[kind].change for kind in kinds}
    if "rings" in changes:
        end = _ringing(line, index, end)
    start, stop = swung(note.onset_beats, chart, straight), swung(end, chart, straight)
    if "shortened" in changes:
        stop = start + (stop - start) / 2
    if "cut" in changes:
        stop = min(stop, start + DEAD_BEATS)
    voice = next((heard.voice for kind, heard in HEARD.items() if heard.voice and kind in kinds), CLEAN)
    vibrato = note.marked("vibrato")
    wave = None
    if vibrato is not None:
        wave = Vibrato(swung(note.onset_beats + vibrato.at_beats, chart, straight), float(vibrato.value))
    path = tuple(_path(note, stop, line, straight))
    return Sound(start, stop, note.pitch.midi, velocity(note), voice, note.string, path, wave, index)


def _ringing(line: Line, index: int, end: Fraction) -> Fraction:
    """Until the next note on the string or the end of the bar, whichever comes first; never shorter than written."""
    note, bar = line.notes[index], line.chart.bar_beats
    limit = (note.onset_beats // bar + 1) * bar
    for place in range(index + 1, len(line.notes)):
        other = line.notes[place]
        if other.string == note.string or other.onset_beats >= limit:
            return max(end, min(limit, other.onset_beats))
    return max(end, limit)


def _path(note: Note, stop: Fraction, line: Line,
          straight: Collection[Fraction]) -> Iterator[tuple[Fraction, Fraction]]:
    """Corners of the bends: each begins at its mark and arrives after BEND_SECONDS, or half its time if less."""
    moves: list[Mark] = [mark for mark in note.marks if mark.kind in MOVING]
    level = Fraction(0)
    for number, mark in enumerate(moves):
        start = swung(note.onset_beats + mark.at_beats, line.chart, straight)
        if mark.kind == "pre-bend":
            level += mark.value * 100
            yield start, level
            continue
        following = moves[number + 1] if number + 1 < len(moves) else None
        until = stop if following is None else swung(note.onset_beats + following.at_beats, line.chart, straight)
        yield start, level
        level += mark.value * (100 if mark.kind == "bend" else -100)
        yield start + min(BEND_SECONDS * line.chart.tempo / 60, (until - start) / 2), level


def _gliding(sound: Sound, midi: int) -> Sound:
    """The sound with a slide at its end toward another pitch."""
    length = min(GLIDE_BEATS, (sound.end_beats - sound.start_beats) / 2)
    level = sound.path[-1][1] if sound.path else Fraction(0)
    return replace(sound, path=(*sound.path, (sound.end_beats - length, level),
                                (sound.end_beats, Fraction(100 * (midi - sound.midi)))))
