"""What a run lesson is about, read from its own music and metadata: for an index to search."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import Any, Literal

from theorylib.changes.meters import swing_ratio
from theorylib.errors import LineError, VampError, as_text, closest
from theorylib.names.scales import Scale
from theorylib.playing.lines import Line
from theorylib.reading.harmony import harmony

from .lesson import Lesson

# Every mark of a line, and the technique that it trains ("" where it trains none of its own).
NAMED = {
    "bend": "bends", "pre-bend": "bends", "release": "bends", "vibrato": "vibrato", "hammer": "legato",
    "hammer from nowhere": "legato", "pull": "legato", "slide": "slides", "legato slide": "slides", "tap": "tapping",
    "dead": "dead notes", "palm mute": "palm muting", "let ring": "let ring", "harmonic": "harmonics",
    "tapped harmonic": "harmonics", "pick down": "alternate picking", "pick up": "alternate picking",
    "accent": "accents", "ghost": "dynamics", "dynamic": "dynamics", "staccato": "staccato", "grace": "grace notes",
    "tie": "",
}
_BY_PROMISE = {"chord tones": "arpeggios", "strong beats": "target notes", "guide tones": "guide tones"}
STRUMMING = "strumming"
TECHNIQUES = tuple(sorted({*filter(None, NAMED.values()), *_BY_PROMISE.values(), STRUMMING, "sixteenths", "triplets",
                           "swing"}))
Technique = Literal[
    "accents", "alternate picking", "arpeggios", "bends", "dead notes", "dynamics", "grace notes", "guide tones",
    "harmonics", "legato", "let ring", "palm muting", "sixteenths", "slides", "staccato", "strumming", "swing",
    "tapping", "target notes", "triplets", "vibrato"]
# What players call a mark that has another name here (common practice, no source).
_ALSO = {"hammer-on": "legato", "hammer on": "legato", "pull-off": "legato", "pull off": "legato", "slur": "legato",
         "muted note": "dead notes", "palm-mute": "palm muting"}
_SIXTEENTH = Fraction(1, 4)


def facts_of(lesson: Lesson) -> dict[str, Any]:
    """{"title", "level", "minutes", "tempo", "feel", "key", "home", "aims", "techniques", "chords",
    "scales"}, to be read.

    "chords" are kinds of chord ("m7"), "scales" kinds of scale ("dorian"), "techniques" those that its lines train and
    those that its metadata name.
    """
    about = lesson.about
    lines = [line for _, line in lesson.lines]
    charts = [chart for _, chart in lesson.charts] or [line.chart for line in lines]
    chords: dict[str, None] = {}
    scales: dict[str, None] = {}
    for chart in charts:
        for reading in harmony(chart).chords if any(event.chord.root for event in chart.events) else ():
            if reading.chord.root is not None:
                chords[reading.chord.pretty_suffix or "major triad"] = None
                scales[reading.scale.pretty_kind] = None
    return {
        "title": lesson.title, "level": about.level, "minutes": about.minutes, "tempo": about.tempo,
        "feel": about.feel, "key": _key(about.key), "home": about.home, "aims": list(about.aims),
        "techniques": sorted({*techniques_of(lines), *about.techniques}), "chords": list(chords),
        "scales": list(scales),
    }


def techniques_of(lines: Iterable[Line]) -> tuple[str, ...]:
    """What some lines train, in the words of TECHNIQUES."""
    found = set()
    for line in lines:
        if line.is_rhythm_part:  # its accents and picks are the pattern's, not what the lesson trains
            found.add(STRUMMING)
            continue
        found |= {NAMED[mark.kind] for note in line.notes for mark in note.marks if NAMED[mark.kind]}
        if line.promise in _BY_PROMISE:
            found.add(_BY_PROMISE[line.promise])
        lengths = [note.duration_beats for note in line.notes]
        if sum(length == _SIXTEENTH for length in lengths) > len(lengths) / 4:
            found.add("sixteenths")
        if sum(length.denominator % 3 == 0 for length in lengths) > len(lengths) / 8:
            found.add("triplets")
        if swing_ratio(line.chart.feel, line.chart.tempo) != 1:
            found.add("swing")
    return tuple(sorted(found))


def technique_named(text: str) -> str:
    """The technique of TECHNIQUES that a common name means, one or many: "hammer-ons" is legato; raises LineError."""
    text = as_text(text, "technique", "such as bends", LineError)
    plain = text.strip().lower()
    if plain in TECHNIQUES:
        return plain
    known = {one: one for one in TECHNIQUES} | {kind: name for kind, name in NAMED.items() if name} | _ALSO
    for word in (plain, plain.removesuffix("s"), f"{plain}s"):
        if word in known:
            return known[word]
    raise LineError(f"“{text[:40]}” is no technique that an index knows", value=text, where="techniques",
                    expected=", ".join(TECHNIQUES),
                    nearest=dict.fromkeys(known[one] for one in closest(plain, known)))


def _key(text: str) -> str:
    try:
        return Scale.parse(text).pretty
    except VampError:
        return text
