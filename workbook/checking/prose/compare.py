"""One rule for each kind of name: is it so in the lesson, and if not, what is?

Each gives "" for what is so, words for what would be true otherwise, and None where the facts do not tell.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from fractions import Fraction

from theorylib.changes.charts import Chart
from theorylib.changes.meters import Meter, swing_ratio
from theorylib.names.chords import Chord
from theorylib.names.scales import Scale
from theorylib.names.spelling import NoteName
from theorylib.necks.tunings import Tuning

from ...lesson.prose import listed, number
from .facts import Facts
from .mention import Mention

Answer = str | None
MOST_CHORDS = 8  # chords of the chart that a message lists
_FIVE_NOTES = ("minor pentatonic", "major pentatonic", "blues", "major blues")
_STRICT = re.compile(r"natural|aeolian|ionian", re.IGNORECASE)  # A minor may be said of A dorian, A aeolian may not
_FRETTING = frozenset({"fret", "frets", "hold", "holds", "press", "presses", "stretch", "stretches"})
_PICKING = frozenset({"pick", "picks", "pluck", "plucks", "strum", "strums"})


def _so(is_so: bool, otherwise: str) -> str:
    return "" if is_so else otherwise


# -- harmony ---------------------------------------------------------------------------------------------------------
def _chord(one: Mention, facts: Facts) -> Answer:
    chord = one.value
    assert isinstance(chord, Chord)
    if facts.holds(chord):
        return ""
    return None if chord in facts.shown or not facts.chords else _the_chords(chord, facts)


def _root(one: Mention, facts: Facts) -> Answer:
    """A bare letter for a chord: any chord on that root will do."""
    chord = one.value
    assert isinstance(chord, Chord)
    assert chord.root is not None
    if not facts.chords:
        return None
    return _so(chord.root.pitch_class in _roots(facts), _the_chords(chord, facts))


def _roots(facts: Facts) -> set[int]:
    return {chord.root.pitch_class for chord in facts.chords if chord.root is not None}


def _the_chords(chord: Chord, facts: Facts) -> str:
    """“the changes hold Am7 and D9”; of many the nearest by name: those on its root, then those of its kind."""
    said = [one.pretty for one in facts.chords]
    if len(said) <= MOST_CHORDS:
        return f"the changes hold {listed(said)}"
    near = [one.pretty for one in facts.chords if one.root and chord.root and one.root[0] == chord.root[0]]
    near += [one.pretty for one in facts.chords if one.suffix == chord.suffix and one.pretty not in near]
    return f"of the {len(said)} chords of the changes the nearest are {listed((near or said)[:3])}"


def _scale(one: Mention, facts: Facts) -> Answer:
    scale = one.value
    assert isinstance(scale, Scale)
    if not facts.homes:
        return None
    known = scale in facts.scales or facts.has_notes_of(scale)
    if known or (not _STRICT.search(one.words) and _of_the_home(scale, facts)):
        return ""
    # A scale with all the notes of all the chords is a choice that a teacher may make beside the reader's.
    sounding = frozenset().union(*(chord.pitch_classes for chord in facts.chords))
    return None if scale in facts.shown or sounding <= scale.pitch_classes else _the_home(facts)


def _of_the_home(scale: Scale, facts: Facts) -> bool:
    """Its plain major or minor, or the five or six notes that go with it: blues notes over a dominant too."""
    for home in (*facts.homes, *facts.keys):
        if home.tonic.pitch_class == scale.tonic.pitch_class:
            if scale.kind in ("major", "minor") and scale.is_minor == home.is_minor:
                return True
            if scale.kind in _FIVE_NOTES and (scale.is_minor == home.is_minor or "b7" in home.degrees):
                return True
    return False


def _home(one: Mention, facts: Facts) -> Answer:
    scale = one.value
    assert isinstance(scale, Scale)
    if not facts.homes:
        return None
    return _so(any(scale.mask == home.mask for home in facts.homes), _the_home(facts))


def _the_home(facts: Facts) -> str:
    word = "scale is" if len(facts.homes) == 1 else "scales are"
    return f"the home {word} {listed(home.pretty for home in facts.homes)}"


def _chord_scale(one: Mention, facts: Facts) -> Answer:
    symbol, scale = one.value
    read = [reading for reading in facts.readings if symbol in (str(reading.chord), str(reading.chord.without_bass()))]
    if not read:
        return None
    choices = {choice.mask for reading in read for choice in (reading.scale, *reading.alternatives)}
    return _so(scale.mask in choices, f"{read[0].chord.pretty} takes {read[0].scale.pretty}")


def _key(one: Mention, facts: Facts) -> Answer:
    scale, has_kind = one.value
    every = [*facts.keys, *facts.homes]
    if not every:
        return None
    same = any(key.tonic.pitch_class == scale.tonic.pitch_class and (not has_kind or key.is_minor == scale.is_minor)
               for key in every)
    parent = has_kind and any(key.parent == scale for key in every)
    return _so(same or parent, f"the key is {listed(key.pretty for key in facts.keys)}")


# -- the neck --------------------------------------------------------------------------------------------------------
def _position(one: Mention, facts: Facts) -> Answer:
    if not facts.positions:
        return None
    right = sorted(facts.positions)
    word = "position" if len(right) == 1 else "positions"
    return _so(one.value in facts.positions, f"the lesson lies in {word} {listed(map(str, right))}")


def _fret(one: Mention, facts: Facts) -> Answer:
    assert isinstance(one.value, int)
    last = facts.tuning.last_fret
    return _so(one.value <= last, f"the last fret is {last}" + " above the capo" * bool(facts.tuning.capo))


def _capo(one: Mention, facts: Facts) -> Answer:
    capo = facts.tuning.capo
    return _so(one.value == capo, f"the capo is at fret {capo}" if capo else "the lesson has no capo")


def _string(one: Mention, facts: Facts) -> Answer:
    assert isinstance(one.value, int)
    return _so(1 <= one.value <= len(facts.tuning.strings), _the_strings(facts.tuning))


def _strings(one: Mention, facts: Facts) -> Answer:
    return _so(one.value == len(facts.tuning.strings), _the_strings(facts.tuning))


def _the_strings(tuning: Tuning) -> str:
    return f"the neck has {number(len(tuning.strings))} strings, {_open_strings(tuning)}"


def _open_strings(tuning: Tuning) -> str:
    return " ".join(pitch.name.pretty for pitch in tuning.open_strings[::-1])


def _string_name(one: Mention, facts: Facts) -> Answer:
    where, names = one.value
    open_strings = facts.tuning.open_strings  # thinnest first
    half = len(open_strings) // 2
    some = open_strings[half:] if where.startswith("low") else open_strings[:half] if where.startswith("high") \
        else open_strings
    has = {pitch.name.pitch_class for pitch in some}
    there = all(NoteName(name).pitch_class in has for name in names)
    return _so(there, f"the strings are {_open_strings(facts.tuning)}")


def _tuning(one: Mention, facts: Facts) -> Answer:
    assert isinstance(one.value, Tuning)
    own = facts.tuning
    return _so(one.value.open_strings == own.open_strings, f"the tuning is {Tuning(own.open_strings).name}")


def _hand(one: Mention, facts: Facts) -> Answer:
    side, verb = one.value
    if not facts.hand or verb not in _FRETTING | _PICKING:
        return None
    return _so((side == facts.hand) == (verb in _FRETTING),
               "say the " + ("fretting" if verb in _FRETTING else "picking") + " hand")


# -- time ------------------------------------------------------------------------------------------------------------
def _tempo(one: Mention, facts: Facts) -> Answer:
    if not facts.tempos:
        return None
    tempos = sorted({chart.tempo for chart in facts.charts}) or sorted(facts.tempos)
    known = tempos if one.bound else facts.tempos  # “the track runs at …” means no step of the practice plan
    return _so(one.value in known, f"the tempo is ♩ = {listed(map(str, tempos))}")


def _bar(one: Mention, facts: Facts) -> Answer:
    assert isinstance(one.value, int)
    if not facts.charts:
        return None
    return _so(1 <= one.value <= facts.longest, _the_bars(facts))


def _the_bars(facts: Facts) -> str:
    counts = sorted({len(chart.order) for chart in facts.charts})
    return f"the changes have {listed(map(number, counts))} bar{'' if counts == [1] else 's'}"


def _length(one: Mention, facts: Facts) -> Answer:
    if not facts.charts:
        return None
    lengths: set[Fraction | int] = set()
    for chart in facts.charts:
        lengths |= {len(chart.order), len(chart.bars)}
        lengths |= {section.duration_beats / chart.bar_beats for section in chart.sections}
        lengths |= set(_periods(_bars_of(chart)))
    return _so(one.value in lengths, _the_bars(facts))


def _bars_of(chart: Chart) -> list[tuple[str, ...]]:
    bars: dict[int, list[str]] = {}
    for event in chart.events:
        bars.setdefault(event.bar, []).append(str(event.chord))
    return [tuple(bars.get(index, ())) for index in range(len(chart.order))]


def _periods(bars: list[tuple[str, ...]]) -> Iterable[int]:
    """After how many bars the changes begin again."""
    count = len(bars)
    return (size for size in range(1, count) if count % size == 0 and bars == bars[:size] * (count // size))


def _count(one: Mention, facts: Facts) -> Answer:
    if not facts.chords:
        return None
    counts = {len(facts.chords), len({chord.without_bass() for chord in facts.chords})}
    return _so(one.value in counts, f"the changes have {number(len(facts.chords))} chords")


def _meter(one: Mention, facts: Facts) -> Answer:
    meters = _meters(facts)
    swung = str(one.value) == "12/8" and any(swing_ratio(chart.feel) != 1 for chart in facts.charts)
    return _so(one.value in meters or swung, f"the meter is {listed(map(str, meters))}") if meters else None


def _beats(one: Mention, facts: Facts) -> Answer:
    meters = _meters(facts)
    return _so(any(one.value in (meter.beats, meter.pulses) for meter in meters),
               f"the meter is {listed(map(str, meters))}") if meters else None


def _beat(one: Mention, facts: Facts) -> Answer:
    assert isinstance(one.value, int)
    meters = _meters(facts)
    return _so(any(one.value <= meter.beats for meter in meters), f"the meter is {listed(map(str, meters))}") \
        if meters else None


def _meters(facts: Facts) -> list[Meter]:
    return list(dict.fromkeys(chart.meter for chart in facts.charts))


def _feel(one: Mention, facts: Facts) -> Answer:
    if not facts.charts:
        return None
    said = str(one.value)
    right = any(_has_feel(said, chart.feel, chart.meter) for chart in facts.charts)
    return _so(right, f"the feel is {listed(dict.fromkeys(chart.feel for chart in facts.charts))}")


def _has_feel(said: str, feel: str, meter: Meter) -> bool:
    if said in ("swing", "swung", "straight"):
        return (swing_ratio(feel) == 1) == (said == "straight")
    return said == feel or (said == "waltz" and meter.beats == 3)


def _section(one: Mention, facts: Facts) -> Answer:
    names = _sections(facts)
    said = str(one.value).lower()
    if not any(len(name) <= 2 for name in names):
        return None  # sections named by words, or none: a teacher's own letters
    letters = {word.strip("0123456789'") for name in names for word in name.lower().split()}
    return _so(said in letters, _the_sections(names))


def _section_word(one: Mention, facts: Facts) -> Answer:
    names = _sections(facts)
    said = str(one.value).removesuffix("duction")
    if any(said in name.lower() for name in names):
        return ""
    if said == "chorus" or not any(len(name) > 2 for name in names):
        return None  # a chorus is also once through the form
    return _the_sections(names)


def _sections(facts: Facts) -> list[str]:
    return list(dict.fromkeys(section.name for chart in facts.charts for section in chart.sections if section.name))


def _the_sections(names: list[str]) -> str:
    return f"the chart's section{'s are' if len(names) > 1 else ' is'} {listed(names)}"


JUDGES: dict[str, Callable[[Mention, Facts], Answer]] = {
    "chord": _chord, "root": _root, "scale": _scale, "home": _home, "chord scale": _chord_scale, "key": _key,
    "position": _position, "fret": _fret, "capo": _capo, "string": _string, "strings": _strings,
    "string name": _string_name, "tuning": _tuning, "hand": _hand, "tempo": _tempo, "bar": _bar, "length": _length,
    "count": _count, "meter": _meter, "beats": _beats, "beat": _beat, "feel": _feel, "section": _section,
    "section word": _section_word,
}
