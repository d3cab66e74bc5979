"""Plain sentences about harmony: what a lesson says between its figures, written from the analysis."""

from __future__ import annotations

from collections.abc import Container, Iterable, Sequence
from fractions import Fraction

from theorylib.errors import VampError
from theorylib.names.chords import Chord
from theorylib.names.scales import Scale
from theorylib.names.spelling import NoteName, pretty_accidentals
from theorylib.reading.harmony import Harmony, Move, Reading, Span
from theorylib.reading.substitutes import Substitute, shown

_SMALL = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


MOST_TOLD = 8  # chords of which a sentence names the notes outside the home
SIZES = {Fraction(1, 2): "a quarter tone", 1: "a semitone", 2: "a tone", 3: "a tone and a half"}


def number(count: int) -> str:
    """A count in words up to twelve."""
    return _SMALL[count] if 0 <= count < len(_SMALL) else str(count)


def ordinal(count: int) -> str:
    """1st, 2nd, 3rd, 4th ..."""
    ending = "th" if 10 <= count % 100 <= 20 else {1: "st", 2: "nd", 3: "rd"}.get(count % 10, "th")
    return f"{count}{ending}"


def listed(words: Iterable[str]) -> str:
    """“a, b and c”."""
    every = list(words)
    return every[0] if len(every) == 1 else ", ".join(every[:-1]) + " and " + every[-1] if every else ""


def names(notes: Iterable[NoteName]) -> str:
    return " ".join(note.pretty for note in notes)


def with_degrees(notes: Iterable[tuple[NoteName, str]]) -> str:
    """“C♯ (13), F♯ (9)”."""
    return ", ".join(f"{name.pretty} ({pretty_accidentals(degree)})" for name, degree in notes)


def is_double(name: NoteName) -> bool:
    """A name with a double accidental, which the neck knows by a simpler one."""
    return abs(name.accidental) > 1


def called(name: NoteName, degree: str = "", known: Container[NoteName] = ()) -> str:
    """A note as people read it, with what it is in a chord; of a double accidental not `known` what it sounds as.

    >>> called(NoteName("C##"), "7"), called(NoteName("Ebb")), called(NoteName("C"), "b9")
    ('C♯♯ (7, sounds as D)', 'E♭♭ (sounds as D)', 'C (♭9)')
    """
    beside = [pretty_accidentals(degree)] * bool(degree)
    beside += [f"sounds as {name.simple().pretty}"] * (is_double(name) and name not in known)
    return name.pretty + f" ({', '.join(beside)})" * bool(beside)


def called_with_degrees(notes: Iterable[tuple[NoteName, str]], known: Container[NoteName] = ()) -> str:
    """“C♯ (13) and C♯♯ (7, sounds as D)”."""
    return listed(called(name, degree, known) for name, degree in notes)


def doubles(harmony: Harmony) -> tuple[list[NoteName], list[NoteName]]:
    """The double accidentals of the home scales, and those that the chords add."""
    of_homes = dict.fromkeys(name for span in harmony.homes for name in span.scale.names if is_double(name))
    of_chords = dict.fromkeys(name for reading in harmony.chords for name in reading.chord.names if is_double(name))
    return list(of_homes), [name for name in of_chords if name not in of_homes]


def sounding(harmony: Harmony) -> str:
    """What the double accidentals of the home scales sound as, then those that the table of the chords adds.

    “E♭♭ sounds as D. In the table C♯♯ sounds as D and F♯♯ as G.”
    """
    of_homes, further = doubles(harmony)
    said = [_sound_as(of_homes)] * bool(of_homes) + [f"In the table {_sound_as(further)}"] * bool(further)
    return " ".join(said)


def _sound_as(doubles: Sequence[NoteName]) -> str:
    return listed(f"{name.pretty} {'as' if number else 'sounds as'} {name.simple().pretty}"
                  for number, name in enumerate(doubles)) + "."


def tones(chord: Chord) -> str:
    return with_degrees((tone.name, tone.degree) for tone in chord.tones)


def pretty_numeral(numeral: str) -> str:
    """A numeral as people read it: ♭VI, V7♯9."""
    return "".join("♭" if sign == "b" else "♯" if sign == "#" else sign for sign in numeral)


def origin(scale: Scale) -> str:
    """Where a scale comes from, in words: “2nd mode of A major”."""
    parent = scale.parent
    if scale.kind == "blues":
        return "the minor pentatonic with the ♭5 between its 4 and its 5"
    if scale.kind == "minor pentatonic":
        return "the natural minor scale without its 2 and its ♭6"
    if parent == scale:
        return {"major": "the major scale itself"}.get(scale.kind, f"the {scale.kind} scale itself")
    return f"{ordinal(scale.parent_degree)} mode of {everyday(parent).pretty}"


def everyday(parent: Scale) -> Scale:
    """A parent scale by the name that people use: B melodic minor, not C♭ melodic minor."""
    return Scale(parent.tonic.simple(), parent.kind)


def homes(harmony: Harmony, *, first_form: bool = False, told: Iterable[Chord] = ()) -> str:
    """A paragraph on the home scales: one for all the changes, or where each begins, and what steps out of them.

    `first_form` says it as lessons of the first form did; of the chords `told` another place says what steps out.
    """
    single = len({span.scale for span in harmony.homes}) == 1
    said = _one_home(harmony, first_form) if single else _several_homes(harmony)
    if all(span.scale.kind == "blues" for span in harmony.homes):
        return said  # all its chords step out, and that is said
    return " ".join([said, *steps_out(harmony, first_form=first_form, told=told)])


def _one_home(harmony: Harmony, first_form: bool) -> str:
    home = harmony.homes[0].scale
    if home.kind == "blues":
        return (f"**{home.pretty}** is the home scale: {origin(home)}. Its notes are {names(home.names)}. "
                "Where it rubs against a chord's own 3rd, the rub is the sound of the blues; the chord tones say "
                "where to come to rest.")
    other = _other_reading(harmony, harmony.homes[0])
    # “The major scale itself” says nothing more.
    where = "" if home.kind == "major" and not first_form else origin(home)
    if _stepping_out(harmony):
        brackets = f" ({where}{other})" * bool(where)
        words = f"**{home.pretty}** is the home scale{brackets}."
    else:
        words = f"One home scale serves all the changes: **{home.pretty}**{', ' * bool(where)}{where}{other}."
    return f"{words} Its notes are {names(home.names)}."


def _several_homes(harmony: Harmony) -> str:
    bar = harmony.chart.bar_beats
    parts = []
    for span in harmony.homes:
        first = int(span.onset_beats // bar) + 1
        other = _other_reading(harmony, span)
        scale = span.scale
        parts.append(f"from bar {first} **{scale.pretty}** ({origin(scale)}{other}: {names(scale.names)})")
    count = len({span.scale for span in harmony.homes})
    return f"The changes pass through {number(count)} home scales: {listed(parts)}."


def _other_reading(harmony: Harmony, span: Span) -> str:
    """What else a modal pair is called: “, so the pair is also ii–V of D major”."""
    parent = pair_key(harmony, span)
    if parent is None:
        return ""
    first_is_second = _inside(harmony, span)[0].chord.is_minor
    return f", so the pair is also {'ii–V' if first_is_second else 'V–ii'} of {parent.pretty}"


def pair_key(harmony: Harmony, span: Span) -> Scale | None:
    """The major key of which a modal home's only chords are the ii and the V."""
    parent = span.scale.parent
    if span.scale.kind not in ("dorian", "mixolydian"):
        return None
    inside = [reading.chord for reading in _inside(harmony, span)]
    degrees = {(chord.root.pitch_class - parent.tonic.pitch_class) % 12: chord for chord in inside if chord.root}
    is_pair = set(degrees) == {2, 7} and degrees[2].is_minor and degrees[7].is_dominant
    return parent if is_pair else None


def _inside(harmony: Harmony, span: Span) -> list[Reading]:
    end = span.onset_beats + span.duration_beats
    return [reading for reading in harmony.chords
            if span.onset_beats <= reading.onset_beats < end and reading.chord.root is not None]


def _stepping_out(harmony: Harmony) -> dict[Chord, tuple[NoteName, ...]]:
    """The chords with notes outside their home scale, each with those notes, bass included."""
    found: dict[Chord, tuple[NoteName, ...]] = {}
    for reading in harmony.chords:
        chord = reading.chord
        every = [*chord.names, *([chord.bass] if chord.bass else [])]
        outside = dict.fromkeys(name for name in every if name.pitch_class not in reading.home.pitch_classes)
        if outside:
            found[chord] = tuple(dict.fromkeys([*found.get(chord, ()), *outside]))
    return found


def steps_out(harmony: Harmony, *, first_form: bool = False, told: Iterable[Chord] = ()) -> list[str]:
    """A sentence that names the notes outside the home, chord by chord; of many chords the first, and the count.

    Nothing of the chords `told` elsewhere.
    """
    elsewhere = set(told)
    every = [(chord, notes) for chord, notes in _stepping_out(harmony).items() if chord not in elsewhere]
    if not every:
        return []
    one_more = 0 if first_form else 1  # to say that one is left out is as long as to tell it
    tells_all = len(every) <= MOST_TOLD + one_more
    first = every if tells_all else every[:MOST_TOLD]
    words = [f"{names(notes)} of {chord.pretty}" for chord, notes in first] if first_form else _by_notes(first)
    more = len(every) - len(first)
    if more:
        words.append(f"notes {'of' if first_form else 'in'} {number(more)} other chord{'' if more == 1 else 's'}")
    home = "it" if len({span.scale for span in harmony.homes}) == 1 else "the home scale of the moment"
    several = len(words) > 1 or len(first[0][1]) > 1
    # A list within a list is read once if the outer one has semicolons.
    nested = len(words) > 1 and any(" and " in one for one in words)
    said = "; ".join(words) if nested and not first_form else listed(words)
    return [f"Outside {home} {'lie' if several else 'lies'} {said}."]


def _by_notes(told: Sequence[tuple[Chord, tuple[NoteName, ...]]]) -> list[str]:
    """“C♯ and F♯ in B♭7alt”, the chords with the same notes together."""
    chords: dict[tuple[NoteName, ...], list[str]] = {}
    for chord, notes in told:
        chords.setdefault(notes, []).append(chord.pretty)
    return [f"{listed(note.pretty for note in notes)} in {listed(of)}" for notes, of in chords.items()]


def numerals(harmony: Harmony) -> str:
    """A sentence that reads the changes in their key."""
    parts = []
    for span in harmony.homes:
        inside = _inside(harmony, span)
        seen = list(dict.fromkeys((reading.chord.pretty, pretty_numeral(reading.numeral)) for reading in inside))
        chords, roman = " – ".join(chord for chord, _ in seen), " – ".join(word for _, word in seen)
        parts.append(f"In {span.key.pretty.replace('natural ', '')}, {chords} reads {roman}.")
    return " ".join(parts)


def readings(harmony: Harmony) -> tuple[Reading, ...]:
    """Each chord once, in the order of first appearance; N.C. and other basses under the same chord are left out."""
    found: dict[tuple[Chord, Scale], Reading] = {}
    for reading in harmony.chords:
        if reading.chord.root is not None:
            found.setdefault((reading.chord.without_bass(), reading.scale), reading)
    return tuple(found.values())


def bars_of_chords(harmony: Harmony) -> dict[Chord, str]:
    """Each chord once, in the order of first appearance and as it is written, with its bars in words."""
    found: dict[Chord, list[int]] = {}
    for reading in harmony.chords:
        if reading.chord.root is not None:
            bars = found.setdefault(reading.chord, [])
            bars += [bar for bar in [int(reading.onset_beats // harmony.chart.bar_beats) + 1] if bar not in bars]
    return {chord: _bars(bars) for chord, bars in found.items()}


def pretty_words(name: str) -> str:
    """The name of a scale as people read it, other words as they are."""
    try:
        return Scale.parse(name).pretty
    except VampError:
        return name


def is_power(chord: Chord) -> bool:
    """A root and its 5th alone: it asks for no scale of its own."""
    return set(chord.degrees) <= {"1", "5"}


def other_basses(harmony: Harmony, reading: Reading) -> tuple[Chord, ...]:
    """The same chord over other basses, where the chart has it."""
    return tuple(dict.fromkeys(
        other.chord for other in harmony.chords
        if other.chord != reading.chord and other.chord.without_bass() == reading.chord.without_bass()))


def bars_of_readings(harmony: Harmony) -> dict[tuple[Chord, Scale], str]:
    """The bars in words of each chord (whatever its bass) with each scale that it takes."""
    found: dict[tuple[Chord, Scale], list[int]] = {}
    for reading in harmony.chords:
        if reading.chord.root is not None:
            bars = found.setdefault((reading.chord.without_bass(), reading.scale), [])
            bars += [bar for bar in [int(reading.onset_beats // harmony.chart.bar_beats) + 1] if bar not in bars]
    return {place: _bars(bars) for place, bars in found.items()}


def in_bars(bars: str) -> str:
    return f"bar {bars}" if bars.isdecimal() else f"bars {bars}"


def moves(reading: Reading, following: Chord) -> str:
    """A sentence on the nearest way from one chord's tones to the next chord's; none where no tone stays or steps."""
    if reading.chord.without_bass() == following.without_bass():
        bass = following.bass or following.root
        to = bass.pretty if bass else "the root"
        return f"From {reading.chord.pretty} to {following.pretty} only the bass moves, to {to}."
    if {name.pitch_class for name in reading.chord.names} == {name.pitch_class for name in following.names}:
        return (f"From {reading.chord.pretty} to {following.pretty} every note stays: they are the same notes, and the "
                "bass alone tells which chord it is.")
    kept = [_kept(move) for move in reading.moves if move.semitones == 0]
    going = [_move(move) for move in reading.moves if 0 < abs(move.semitones) <= 2]
    parts = []
    if kept:
        parts.append(f"{listed(kept)} {'stays' if len(kept) == 1 else 'stay'}")
    parts += going
    if not parts:
        return ""
    return f"From {reading.chord.pretty} to {following.pretty}: {listed(parts)}."


def _kept(move: Move) -> str:
    """A note that stays, with its other name where the next chord calls it otherwise."""
    here, there = move.from_name.pretty, move.to_name.pretty
    return here if here == there else f"{here} (as {there})"


def _move(move: Move) -> str:
    way = "falls" if move.semitones < 0 else "rises"
    size = "a half step" if abs(move.semitones) == 1 else "a whole step"
    return f"{move.from_name.pretty} {way} {size} to {move.to_name.pretty}"


COLUMNS = ("Bars", "Chord", "In the key", "Scale", "Comes from", "Chord tones")


def harmony_rows(harmony: Harmony) -> tuple[tuple[str, ...], ...]:
    """A row of COLUMNS for each chord, each once with the bars it stands in."""
    places: dict[tuple[Chord, str, Scale], list[int]] = {}
    bar = harmony.chart.bar_beats
    for reading in harmony.chords:
        if reading.chord.root is not None:
            scale = reading.home if is_power(reading.chord) else reading.scale
            bars = places.setdefault((reading.chord, reading.numeral, scale), [])
            first = int(reading.onset_beats // bar) + 1
            if first not in bars:
                bars.append(first)
    return tuple((_bars(bars), chord.pretty, pretty_numeral(numeral), scale.pretty, origin(scale), names(chord.names))
                 for (chord, numeral, scale), bars in places.items())


def harmony_table(harmony: Harmony) -> str:
    """The rows as a Markdown table, chords in bold."""
    lines = ["| " + " | ".join(COLUMNS) + " |", "|---" * len(COLUMNS) + "|"]
    lines += [f"| {bars} | **{chord}** | " + " | ".join(rest) + " |" for bars, chord, *rest in harmony_rows(harmony)]
    return "\n".join(lines)


SUBSTITUTE_COLUMNS = ("Arpeggio", "Its notes become", "Comes from", "How far out", "By half step into the next")


def substitute_rows(found: Iterable[Substitute]) -> tuple[tuple[str, ...], ...]:
    """A row of SUBSTITUTE_COLUMNS for each substitute."""
    rows = []
    for one in found:
        source = one.sources[0] if one.sources else None
        place = f"{source.place} of {source.parent.pretty}" if source else "no scale of the chord"
        steps = ", ".join(f"{shown(move.from_name)}–{shown(move.to_name)}" for move in one.half_steps)
        rows.append((one.arpeggio.pretty, " ".join(map(pretty_accidentals, one.degrees)), place, one.reach,
                     steps or "–"))
    return tuple(rows)


def substitute_table(found: Iterable[Substitute]) -> str:
    """The rows as a Markdown table, arpeggios in bold."""
    lines = ["| " + " | ".join(SUBSTITUTE_COLUMNS) + " |", "|---" * len(SUBSTITUTE_COLUMNS) + "|"]
    lines += [f"| **{name}** | " + " | ".join(rest) + " |" for name, *rest in substitute_rows(found)]
    return "\n".join(lines)


def _bars(bars: Sequence[int]) -> str:
    """“1–2, 5”: runs of bars joined; at most four runs, then an ellipsis."""
    runs: list[list[int]] = []
    for one in bars:
        if runs and one == runs[-1][1] + 1:
            runs[-1][1] = one
        else:
            runs.append([one, one])
    words = [str(start) if start == end else f"{start}–{end}" for start, end in runs]
    return ", ".join(words[:4]) + (" …" if len(words) > 4 else "")
