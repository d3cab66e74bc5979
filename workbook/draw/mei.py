"""A line as MEI: staff and TAB with our own ids, ready for Verovio to engrave.

Conventions: the staff carries an 8vb treble clef and sounding octaves. Ids: `n<index>` for a note on the staff,
`t<index>` for its digit on the TAB, with `.<k>` for the k-th tied continuation; `c<k>` for chord symbols;
`f<index>` for a finger; `r<row>.<index>` for the room above the TAB that a technique is drawn in. Chord symbols,
fingers and that room are placeholders, written in our own font and strokes afterwards (engrave, technique). What
Verovio draws well on the staff is left to it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from math import ceil

from theorylib.changes.charts import Event
from theorylib.playing.lines import Line
from theorylib.playing.notation import Written, accidentals, as_published, signature_fifths, written_bars

from .mei_marks import ROOM, articulations, grace_pitch, head_of, label_of, rows_around, staff_controls
from .symbols import AFTER, label_width, symbol_width

_ACCIDENTALS = {"#": "s", "b": "f", "##": "x", "bb": "ff", "n": "n", "###": "xs", "bbb": "tb"}
_TO_FIRST_NOTE = 150.0  # from a bar line, at the least, in tenths of a unit
_FINGERS = 50  # the row of fingers, by the number that MEI aligns rows with
_GESTURAL = {0: "n", 1: "s", -1: "f", 2: "ss", -2: "ff"}


@dataclass(slots=True)
class MeiScore:
    """The MEI text, and the words that belong at each chord symbol's id."""

    text: str
    words: dict[str, str] = field(default_factory=dict)
    labels: dict[str, str] = field(default_factory=dict)      # TAB id: what stands there when it is no plain fret
    moments: dict[str, Fraction] = field(default_factory=dict)  # id stem: onset in beats
    fingers: dict[str, str] = field(default_factory=dict)     # id: the finger that stands there
    sections: dict[str, str] = field(default_factory=dict)    # id of its first chord: the section's name


def mei_of(line: Line, *, staff: bool = True, tab: bool = True, fingers: bool = True,
           slashes: bool = False) -> MeiScore:
    """MEI for the whole line; chord symbols come as placeholders with their words beside.

    With `slashes` the staff shows when the strings are struck, and not which notes sound.
    """
    builder = _Builder(as_published(line), staff, tab, fingers, slashes)
    return MeiScore(builder.document(), builder.words, builder.labels, builder.moments, builder.fingers_at,
                    builder.sections)


class _Builder:
    """Collects the pieces of one score; short-lived."""

    def __init__(self, line: Line, staff: bool, tab: bool, fingers: bool, slashes: bool = False) -> None:
        self.line, self.staff, self.tab, self.fingers, self.slashes = line, staff, tab, fingers, slashes
        self.words: dict[str, str] = {}
        self.labels: dict[str, str] = {}
        self.moments: dict[str, Fraction] = {}
        self.fingers_at: dict[str, str] = {}
        self.sections: dict[str, str] = {}
        self.bars = written_bars(line)
        self.tab_number = 2 if staff else 1
        begun = {index: number for number, bar in enumerate(self.bars)
                 for item in bar if not item.tied_from for index in item.notes}  # note: the bar of its first value
        self.controls = staff_controls(line, begun) if staff else {}
        self.chords: dict[int, list[tuple[int, Event]]] = {}  # bar: (number in the line, chord) of each
        for index, event in enumerate(line.chords()):
            self.chords.setdefault(event.bar, []).append((index, event))
        self.labelled = {onset: name for name, onset in self._sections()}
        self.ids: dict[int, int] = {}  # note index to the number of values written for it so far

    def document(self) -> str:
        measures = "".join(self._measure(number, bar) for number, bar in enumerate(self.bars))
        return ('<?xml version="1.0" encoding="UTF-8"?>'
                '<mei xmlns="http://www.music-encoding.org/ns/mei" meiversion="5.0">'
                "<meiHead><fileDesc><titleStmt><title/></titleStmt><pubStmt/></fileDesc></meiHead><music><body><mdiv>"
                f"<score>{self._definition()}<section>{measures}</section></score></mdiv></body></music></mei>")

    def _definition(self) -> str:
        meter, fifths = self.line.chart.meter, signature_fifths(self.line)
        keysig = f"{abs(fifths)}{'s' if fifths > 0 else 'f'}" if fifths else "0"
        signature = f'<meterSig count="{meter.beats}" unit="{meter.unit}"'
        parts = []
        if self.staff:
            parts.append(f'<staffDef n="1" lines="5" keysig="{keysig}"><clef shape="G" line="2" dis="8" '
                         f'dis.place="below"/>{signature}/></staffDef>')
        if self.tab:
            strings = self.line.tuning.open_strings
            courses = "".join(f'<course n="{number}" pname="{pitch.name.letter.lower()}" oct="{pitch.octave}"/>'
                              for number, pitch in enumerate(strings, 1))
            visible = "" if not self.staff else ' visible="false"'
            parts.append(f'<staffDef n="{self.tab_number}" lines="{len(strings)}" notationtype="tab.guitar" '
                         f'scale="92%"><clef shape="TAB"/>{signature}{visible}/><tuning>{courses}</tuning></staffDef>')
        group = "".join(parts)
        bracket = ' bar.thru="true"' if self.staff and self.tab else ""
        return f"<scoreDef system.leftline=\"true\"><staffGrp{bracket}>{group}</staffGrp></scoreDef>"

    def _measure(self, number: int, bar: Sequence[Written]) -> str:
        signs = accidentals(self.line, bar)
        names = [self._names(item) for item in bar]
        parts = []
        if self.staff:
            parts.append(f'<staff n="1"><layer n="1">{self._layer(bar, signs, names, tab=False)}</layer></staff>')
        if self.tab:
            parts.append(f'<staff n="{self.tab_number}"><layer n="1">{self._layer(bar, signs, names, tab=True)}</layer>'
                         "</staff>")
        parts += self._controls(number, bar, names)
        right = ' right="end"' if number == len(self.bars) - 1 else ""
        return f'<measure n="{number + 1}"{right}>{"".join(parts)}</measure>'

    def _names(self, item: Written) -> list[str]:
        """An id stem for each note of the item: the first value of a note is its index, later ones count on."""
        found = []
        for index in item.notes:
            count = self.ids.get(index, 0)
            self.ids[index] = count + 1
            stem = str(index) if not count else f"{index}.{count}"
            self.moments[stem] = item.onset_beats
            found.append(stem)
        return found

    def _layer(self, bar: Sequence[Written], signs: dict, names: list[list[str]], *, tab: bool) -> str:
        parts: list[str] = []
        beam = 0
        for number, item in enumerate(bar):
            # A beam closes before a tuplet that it does not run into, so that elements nest.
            if beam and item.beam != beam:
                parts.append("</beam>")
                beam = 0
            if item.tuplet_starts and item.tuplet:
                hidden = ' bracket.visible="false" num.visible="false"' if tab else ""
                parts.append(f'<tuplet num="{item.tuplet[0]}" numbase="{item.tuplet[1]}"{hidden}>')
            if item.beam and not beam and not tab:
                parts.append("<beam>")
                beam = item.beam
            parts.append(self._tab(item, names[number]) if tab else self._note(number, item, signs, names[number]))
            if item.tuplet_ends:
                if beam:
                    parts.append("</beam>")
                    beam = 0
                parts.append("</tuplet>")
        if beam:
            parts.append("</beam>")
        return "".join(parts)

    def _note(self, number: int, item: Written, signs: dict, names: list[str]) -> str:
        value = f'dur="{item.value}"' + (f' dots="{item.dots}"' if item.dots else "")
        if item.is_rest:
            return f"<rest {value}/>"
        if self.slashes:
            return self._slash(item, names[0], value)
        notes = []
        for index, name in zip(item.notes, names, strict=True):
            pitch = self.line.notes[index].pitch
            sign = signs[number, index]
            accid = f'accid="{_ACCIDENTALS[sign]}"' if sign is not None else (
                f'accid.ges="{_GESTURAL.get(pitch.name.accidental, "n")}"')
            head = f'<note xml:id="n{name}" pname="{pitch.name.letter.lower()}" oct="{pitch.octave}" {accid}'
            notes.append(head + _tie(item) + head_of(self.line.notes[index]))
        struck = [] if item.tied_from else [self.line.notes[index] for index in item.notes]
        grace = "" if item.tied_from else "".join(self._grace(index) for index in item.notes)
        signs_of = articulations(struck)
        if len(notes) == 1:
            return f"{grace}{notes[0]} {value}>{signs_of}</note>" if signs_of else f"{grace}{notes[0]} {value}/>"
        return f"{grace}<chord {value}>" + "".join(f"{head}/>" for head in notes) + f"{signs_of}</chord>"

    def _slash(self, item: Written, name: str, value: str) -> str:
        """A stroke on the middle line, whatever it sounds: a slash, or a cross where the strings are dead."""
        struck = [] if item.tied_from else [self.line.notes[index] for index in item.notes]
        shape = "x" if self.line.notes[item.notes[0]].marked("dead") else "slash"
        head = f'<note xml:id="n{name}" pname="b" oct="3" head.shape="{shape}" stem.dir="up" {value}{_tie(item)}'
        return f"{head}>{articulations(struck)}</note>"

    def _grace(self, index: int) -> str:
        pitch = grace_pitch(self.line.notes[index])
        if pitch is None:
            return ""
        accid = f' accid="{_ACCIDENTALS[pitch.name[1:]]}"' if pitch.name.accidental else ""
        return (f'<note xml:id="g{index}" grace="unacc" dur="8" pname="{pitch.name.letter.lower()}" '
                f'oct="{pitch.octave}"{accid}/>')

    def _tab(self, item: Written, names: list[str]) -> str:
        value = f'dur="{item.value}"' + (f' dots="{item.dots}"' if item.dots else "")
        if item.is_rest or item.tied_from:  # a tied continuation is not struck again: TAB shows nothing
            return f"<space {value}/>"
        digits = "".join(
            f'<note xml:id="t{name}" tab.course="{note.string}" tab.fret="{note.fret}"/>'
            for index, name in zip(item.notes, names, strict=True)
            if (note := self.line.notes[index]).string is not None and note.fret is not None)
        for index, name in zip(item.notes, names, strict=True):
            if label := label_of(self.line.notes[index]):
                self.labels[f"t{name}"] = label
        return f"<tabGrp {value}>{digits}</tabGrp>" if digits else f"<space {value}/>"

    def _controls(self, number: int, bar: Sequence[Written], names: list[list[str]]) -> Iterator[str]:
        chart, start = self.line.chart, number * self.line.chart.bar_beats
        unit = 4 / chart.meter.unit
        for index, event in self.chords.get(number, ()):
            name = f"c{index}"
            words = str(event.chord)
            self.words[name] = words
            wide = symbol_width(words)
            label = self.labelled.get(event.onset_beats)
            if label:
                self.sections[name] = label
                wide += max(0.0, label_width(label) + AFTER - _TO_FIRST_NOTE)
            stamp = float((event.onset_beats - start) / unit) + 1
            # Verovio sets the placeholder in Times at 405; a digit there is half an em wide.
            room = "0" * ceil((wide + 60) / (405 * 0.5))
            yield f'<harm xml:id="{name}" tstamp="{stamp:g}" place="above" staff="1">{room}</harm>'
        yield from self.controls.get(number, ())
        for index in [index for item in bar if not item.tied_from for index in item.notes]:
            if self.tab and self.line.notes[index].place is not None:
                yield from rows_around(index, self.line.notes[index], self.tab_number, self.staff)
        for item, stems in zip(bar, names, strict=True):
            if self.fingers and self.staff and not item.tied_from:
                yield from self._fingers(item.notes, stems)

    def _fingers(self, notes: Sequence[int], stems: Sequence[str]) -> Iterator[str]:
        """A row under the staff for the fingers of a system, where no stem, beam or accidental comes and none reads as
        the number of a tuplet; for notes struck together one row each, the highest on top."""
        highest_first = sorted(zip(notes, stems, strict=True), key=lambda one: -self.line.notes[one[0]].pitch.midi)
        for row, (index, stem) in enumerate(highest_first):
            finger = self.line.notes[index].finger
            if finger is not None:
                self.fingers_at[f"f{stem}"] = str(finger)
                yield (f'<dir xml:id="f{stem}" startid="#n{stem}" place="below" staff="1" vgrp="{_FINGERS + row}">'
                       f"{ROOM}</dir>")

    def _sections(self) -> list[tuple[str, Fraction]]:
        """(name, onset) of each section over the whole line, the form repeated where the line is longer."""
        chart, start = self.line.chart, Fraction(0)
        found: list[tuple[str, Fraction]] = []
        while start < self.line.length_beats and chart.length_beats:
            found += [(section.name, section.onset_beats + start) for section in chart.sections if section.name]
            start += chart.length_beats
        return found


def _tie(item: Written) -> str:
    if item.tied_from and item.tied_to:
        return ' tie="m"'
    return ' tie="t"' if item.tied_from else ' tie="i"' if item.tied_to else ""


