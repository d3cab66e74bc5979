"""What every lesson begins with: title, its choices, the changes, their home, each chord, and the neck."""

from __future__ import annotations

from collections.abc import Callable

from theorylib.changes.chart_text import tempo_words
from theorylib.levels import LEVELS
from theorylib.names.chords import Chord
from theorylib.necks.areas import in_position
from theorylib.necks.positions import LAST_OFFSET
from theorylib.playing.fingering import finger
from theorylib.practice.drills import continuous_arpeggio
from theorylib.reading.chordscales import counted_degree

from . import prose
from .advanced import LEAVING, leaving
from .areas import BLUES, area_scale, nested_chord
from .cells import as_markdown
from .chord_words import chord_notes
from .derived import chords_to_draw
from .first_drills import HIGHER, TONES
from .places import areas_at, hand_at
from .sections import Plan, Section

KIT = "from workbook.kit import *"
INTERMEDIATE = ("intermediate",)
_HERE = """chart = lesson_chart(changes, title=title, key=key, meter=meter, tempo=tempo, feel=feel)
neck = Tuning.parse(tuning, capo)
hand = position or best_position(chart, kind, tuning=neck, per_chord=per_chord, level=level)
chart"""
_MOVES = ("### From chord to chord\n\n"
          "Play these moves slowly, one voice at a time: they are what the ear follows through the changes.")
_STACKED = {"9", "11", "13"}
_THIRDS, _ALTERED = {"3", "b3"}, {"b9", "#9", "b5", "#5", "b13"}


def _title(plan: Plan) -> str:
    choices, chart = plan.choices, plan.chart
    neck = choices.tuning.with_capo(0).name
    said = [f"Level: {choices.level}", f"about {choices.minutes} minutes", tempo_words(chart.tempo, chart.meter),
            chart.feel]
    said += [f"tuning {neck}"] * (neck != "standard") + [f"capo {choices.tuning.capo}"] * bool(choices.tuning.capo)
    return f"# {as_markdown(choices.title)}\n\n*{' · '.join(said)}*"


# -- the changes by ear ------------------------------------------------------------------------------------------------
def _changes(plan: Plan) -> str:
    chart = plan.chart
    count, chords = len(chart.order), list(prose.bars_of_chords(plan.read))
    named = prose.listed(chord.pretty for chord in chords)
    return (f"## The changes\n\n{_tune_first(plan)}"
            f"{prose.number(count).capitalize()} bar{'' if count == 1 else 's'} of {chart.meter} "
            f"with {prose.number(len(chords))} chord{'' if len(chords) == 1 else 's'}: {named}. "
            f"Listen {_apart([f'for {sound}' for sound in _sounds(chords)])}. {_before_reading_on(plan, chords)}")


def _apart(sounds: list[str]) -> str:
    """“for this, for that and for the other”; after a clause of its own a comma stands before the “and”."""
    said = prose.listed(sounds)
    if len(sounds) < 2 or ", which" not in sounds[-2]:
        return said
    return said.removesuffix(f" and {sounds[-1]}") + f", and {sounds[-1]}"


def _tune_first(plan: Plan) -> str:
    """What the open strings are, where they are not those of every day, and how frets are counted over a capo."""
    capo, tuning = plan.choices.tuning.capo, plan.choices.tuning.with_capo(0)
    strings = " ".join(pitch.name.pretty for pitch in tuning.open_strings[::-1])
    tune = f"Tune first, from the thickest string to the thinnest: {strings}. " * (tuning.name != "standard")
    clamp = f"Put the capo at fret {capo}: frets are counted from it, chords and notes are named as they sound. "
    return tune + clamp * bool(capo)


def _before_reading_on(plan: Plan, chords: list[Chord]) -> str:
    """What the ear does first, as far as the level and the chords have it."""
    level = plan.choices.level
    if level == LEVELS[0]:
        return ("Let it go by once with your foot on the beat; the second time, say “now” whenever the chord changes."
                if len(chords) > 1 else "Let it go by with your foot on the beat until you feel where the bar begins.")
    thirds = [bool(_THIRDS & set(chord.degrees)) for chord in chords]
    if level == LEVELS[1]:
        if all(thirds):
            return "Play each chord once and sing its 3rd before you read on."
        if not any(thirds):
            return "Play each chord once and sing its root before you read on."
        return "Play each chord once and sing its 3rd, where it has one, before you read on."
    second = "3rds" if all(thirds) else "5ths" if not any(thirds) else "3rds where there are any"
    return f"Sing the roots through the whole form, then the {second}, before you touch the guitar."


def _sounds(chords: list[Chord]) -> list[str]:
    """How the chords sound, each kind once with its chords (common practice, no source)."""
    found: dict[Callable[[str, bool], str], list[str]] = {}
    for chord in dict.fromkeys(chord.without_bass() for chord in chords):
        found.setdefault(_kind_of(chord), []).append(chord.pretty)
    if len(found) == 1 and len(chords) > 1:  # they have just been named
        return [says("both" if len(chords) == 2 else f"all {prose.number(len(chords))}", True) for says in found]
    return [says(prose.listed(names), len(names) > 1) for says, names in found.items()]


def _tight(names: str, several: bool) -> str:
    return f"the tight, leaning sound of {names}"


def _dark(names: str, several: bool) -> str:
    return f"the dark, settled sound of {names}"


def _bite(names: str, several: bool) -> str:
    return f"the bite of {names}, which {'want' if several else 'wants'} to resolve"


def _pull(names: str, several: bool) -> str:
    return f"the pull of {names}"


def _bright(names: str, several: bool) -> str:
    return f"the open, bright sound of {names}"


def _bare(names: str, several: bool) -> str:
    return f"the bare sound of {names}, which {'have' if several else 'has'} no 3rd"


def _hovering(names: str, several: bool) -> str:
    return f"the hovering sound of {names}, which {'have' if several else 'has'} no 3rd"


def _kind_of(chord: Chord) -> Callable[[str, bool], str]:
    has = set(chord.degrees)
    if "b3" in has:
        return _tight if "b5" in has else _dark
    if "b7" in has and _ALTERED & has:
        return _bite
    if "b7" in has and "3" in has:
        return _pull
    if "3" in has:
        return _bright
    return _bare if prose.is_power(chord) else _hovering


# -- home, chords, neck ------------------------------------------------------------------------------------------------
def _home(plan: Plan) -> str:
    doubles = prose.sounding(plan.read)
    elsewhere = [reading.chord for reading in leaving(plan)] if plan.choices.level == LEVELS[-1] else []
    said = prose.homes(plan.read, told=_over_any_bass(plan, elsewhere)) + f" {doubles}" * bool(doubles)
    basses = any("/" in reading.numeral for reading in plan.read.chords)
    slash = " In a numeral, what stands after the slash is the bass, as a degree of the key." * basses
    if plan.choices.level != LEVELS[-1]:
        return f"## The home scale\n\n{said}{slash}"
    leaves = ", and what leaves it" * bool(elsewhere or prose.steps_out(plan.read))
    return f"## The home scale{leaves}\n\n{said} Cover the table below and say each numeral first.{slash}"


def _over_any_bass(plan: Plan, chords: list[Chord]) -> list[Chord]:
    """Some chords, with the same ones over other basses where the changes have them."""
    every = {chord.without_bass() for chord in chords}
    return [reading.chord for reading in plan.read.chords if reading.chord.without_bass() in every]


def _chords(plan: Plan) -> str:
    return "## Each chord in turn\n\n" + "\n".join(chord_notes(plan.read))


def _moves(plan: Plan) -> bool:
    """Does a chord move to another?"""
    return len(prose.bars_of_chords(plan.read)) > 1


def _has_chord_scales(plan: Plan) -> bool:
    """Over power chords alone the home scale stays, and its shape is drawn with the areas."""
    return not all(prose.is_power(chord) for chord in prose.bars_of_chords(plan.read))


def _neck(plan: Plan) -> str:
    return (f"## On the neck\n\nStay in position {plan.position}: the first finger belongs to fret {plan.position}. "
            f"{_reaching(plan)}Shapes show the function of each chord tone; small rings are the other scale notes."
            f"{_how_counted(plan)}{_not_drawn(plan)}")


def _how_counted(plan: Plan) -> str:
    """Why a 4th is an 11 over a chord, where one of the pictures says so."""
    drawn = [reading.chord for reading in chords_to_draw(plan.read)]
    stacked = [chord for chord in drawn if any(
        counted_degree(degree, chord) == degree for degree in _STACKED - set(chord.degrees))]
    if not stacked:
        return ""
    if len(stacked) == len(drawn):
        over, else_ = "a chord", "a scale by itself"
    else:
        over, else_ = "a chord with a 7th", "over a triad, and by itself, a scale"
    return f" Over {over} the 2nd, 4th and 6th of its scale are called 9, 11 and 13; {else_} counts to 7."


def _not_drawn(plan: Plan) -> str:
    """Which chords have no picture where there is none for each: finding them is the student's own work."""
    drawn = {(reading.chord.without_bass(), reading.scale) for reading in chords_to_draw(plan.read)}
    left = [reading.chord for reading in prose.readings(plan.read)
            if (reading.chord.without_bass(), reading.scale) not in drawn]
    if not left:
        return ""
    named = prose.listed(dict.fromkeys(chord.without_bass().pretty for chord in left))
    return f" Find {named} in the same place yourself, by the table."


def _reaching(plan: Plan) -> str:
    """Where arpeggios and pictures leave the four frets of the position: what a finger reaches for, open strings."""
    position, tuning, choices = plan.position, plan.choices.tuning, plan.choices
    line = continuous_arpeggio(plan.chart, choices.per_chord, position, tuning=tuning, passes=choices.passes)
    frets = {note.fret for note in finger(line, tuning, position).notes} | _drawn_frets(plan)
    said = []
    if 0 in frets:
        said.append("open strings need no finger")
    if position - 1 in frets and position > 1:
        said.append(f"it reaches back to fret {position - 1} where a note lies there")
    if position + LAST_OFFSET in frets:
        said.append(f"the little finger reaches on to fret {position + LAST_OFFSET}")
    told = prose.listed(said)
    return f"{told[0].upper()}{told[1:]}. " if told else ""


def _drawn_frets(plan: Plan) -> set[int]:
    """The frets on which the pictures of the chord scales show a note."""
    shown = [dict.fromkeys([*reading.scale.pitch_classes, *(name.pitch_class for name in reading.chord.names)], "")
             for reading in chords_to_draw(plan.read)]
    return {place.fret for notes in shown for place in in_position(notes, plan.position, plan.choices.tuning)}


def _area(plan: Plan) -> str:
    """What the pictures of the areas show, by what stands in them."""
    scale, level = area_scale(plan.read, plan.choices.kind), plan.choices.level
    head = f"## {scale.pretty} in one place\n\n"
    if scale.kind == BLUES:
        if level == LEVELS[-1]:
            colour = nested_chord(plan.read, level).chord.pretty
            return (f"{head}First the blues scale and the arpeggio of the first chord, then {colour} in the same "
                    "place: its arpeggio, and the scale around it. Improvise a chorus, and leave the blues scale where "
                    "that chord stands.")
        first = f"the arpeggio of {_first_chord(plan)} lies" if level == LEVELS[0] else "the arpeggios lie"
        opened = " Open strings need no finger." * _at_the_nut(plan)
        return (f"{head}First the blues scale, then the same place again as {first} in it. Play the scale, then the "
                "arpeggio, and find by eye and ear which notes they share: those are the ones to come home to."
                f"{opened}")
    if level == LEVELS[0]:
        opened = "; open strings need no finger" * _at_the_nut(plan)
        return (f"{head}One finger a fret from fret {plan.position} on{opened}. The square is the root: play from root "
                "to root first, then all of it, and say the numbers aloud.")
    chord = nested_chord(plan.read, level).chord
    if prose.is_power(chord):
        rest = ("play what you like of the five, and come to rest on one of the two." if level == LEVELS[1]
                else "begin each phrase away from both, and say which of them you will end on before you play it.")
        return f"{head}First the five notes of the home, then the root and the 5th of {chord.pretty} there: {rest}"
    then = ("Play the innermost, add a layer, and hear what the new notes do." if level == LEVELS[1]
            else "Begin every layer from its highest note, and name each new note before you add it.")
    return (f"{head}First the five notes of the home, then {chord.pretty} from the inside out, each shape within the "
            f"next. {then}")


def _at_the_nut(plan: Plan) -> bool:
    """Does a beginner's shape have open strings?"""
    shape = in_position(area_scale(plan.read, plan.choices.kind), plan.position, plan.choices.tuning)
    return plan.choices.level == LEVELS[0] and any(place.fret == 0 for place in shape)


def _first_chord(plan: Plan) -> str:
    return prose.readings(plan.read)[0].chord.without_bass().pretty


# What stands before the cell of choices, which is the teacher's, is put together in kinds.py.
TITLE = Section("title", words=_title)
def _area_aim(plan: Plan) -> str:
    if plan.choices.level == LEVELS[0]:
        return ""  # its shape has a drill, which says it
    if area_scale(plan.read, plan.choices.kind).kind == BLUES:
        return "Play the blues scale and the arpeggios of its chords in one place on the neck."
    if prose.is_power(nested_chord(plan.read, plan.choices.level).chord):
        return "Play in one shape of the neck and come to rest on the root or the 5th of the chord."
    return "Play triad, arpeggio and scale of a chord in one place on the neck, from the inside out."


AREA = Section("area", _area, lambda plan: "areas(read, hand, kind, level, tuning=neck)", part="Technique",
               does="one area of the neck", aim=_area_aim, at=areas_at)


def _track(plan: Plan) -> str:
    named = as_markdown(plan.choices.track.rpartition("/")[2])
    return (f"## The recording\n\nThis lesson is played over a recording, {named}. The practice page plays it slower "
            "or faster in its own pitch, counts in at its tempo and repeats bars of it. Listen to it once as a whole, "
            "at a moderate volume, before you play.")


HERE = Section("changes", _changes, lambda plan: _HERE)
TRACK = Section("track-words", _track, when=lambda plan: bool(plan.choices.track))
HOME = (
    Section("home-words", _home, levels=HIGHER),
    Section("harmony", code=lambda plan: "read = harmony(chart)" + "\nread" * (plan.choices.level != LEVELS[0])),
    TONES,
    Section("chords-words", _chords, when=lambda plan: bool(chord_notes(plan.read)), levels=INTERMEDIATE),
    LEAVING,
    Section("moves", lambda plan: _MOVES, lambda plan: "moves(read)", when=_moves, levels=INTERMEDIATE, least=30),
    Section("neck", _neck, lambda plan: "necks(read, hand, tuning=neck)", when=_has_chord_scales, levels=INTERMEDIATE,
            part="Changes", does="the chord scales on the neck", at=hand_at),
    AREA,
)
