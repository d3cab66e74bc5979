"""Makes workbook/listen/chord_weights.json: renders pieces of its own, and fits the chord model to them.

    python tests/tables/train_chords.py [workbook/listen/chord_weights.json]

The recipe is all here and seeded: chords, parts and sounds are chosen by a random generator of Python's, played by this
script's own little band, and rendered with the SoundFont that comes with us (fluid-small, from Fluid (R3) Mono, MIT) or
drawn from numbers: chords and melody, the bass, or both. No recording of anybody goes in. Nothing of the product's
arranger is used, so that the weights do not follow it; what the script does use is the renderer (`render_midi`) and the
listening itself. `recipe` in the result is the digest of this file, of its writer of MIDI and of what hears.

The loss has one lowest point, and is followed to it; the weights are kept to a hundredth. The renderer and the spectra
differ in their last bits from one kind of processor to another, so that a weight may end a hundredth away elsewhere:
`farthest` says how far two results lie apart; on one machine, trained twice, the files were the same to the byte. It
took 170 seconds of a processor's time.
"""

from __future__ import annotations

import hashlib
import json
import sys
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import Any

import mido
import numpy as np
from scipy.optimize import minimize
from scipy.signal import fftconvolve

ROOT = Path(__file__).resolve().parents[2]
if __name__ == "__main__":
    sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from support.timed_midi import TICKS, timed_midi  # noqa: E402

from workbook.listen import chord_model  # noqa: E402
from workbook.listen.chord_model import CLASSES, QUALITIES, VALUES, WEIGHTS, Weights  # noqa: E402
from workbook.listen.decoding import averaged, cycle_bars, decoded, favoured, in_key  # noqa: E402
from workbook.listen.hearing import SURE  # noqa: E402
from workbook.listen.recording import of_samples  # noqa: E402
from workbook.listen.spectra import notes_of  # noqa: E402
from workbook.play.sound import render_midi  # noqa: E402

PIECES, BARS, PASSES, SEED, RATE = 160, 8, 2, 20_260, 48_000
HEARING = ("recording.py", "spectra.py", "chord_model.py", "decoding.py")
# Semitones over the root, and what a player may add to them.
TONES = {"": (0, 4, 7), "m": (0, 3, 7), "7": (0, 4, 7, 10), "maj7": (0, 4, 7, 11), "m7": (0, 3, 7, 10),
         "m7b5": (0, 3, 6, 10)}
COLOURS = {"": (14, 9), "m": (14,), "7": (14, 21, 13, 15), "maj7": (14, 18), "m7": (14, 17), "m7b5": (17,)}
# Of keys: semitones over the tonic, the chord as a triad, the chord as a seventh chord; what is common stands twice.
MAJOR = ((0, "", "maj7"), (0, "", "maj7"), (2, "m", "m7"), (4, "m", "m7"), (5, "", "maj7"), (5, "", "maj7"),
         (7, "", "7"), (7, "", "7"), (9, "m", "m7"), (11, "m7b5", "m7b5"))
MINOR = ((0, "m", "m7"), (0, "m", "m7"), (2, "m7b5", "m7b5"), (3, "", "maj7"), (5, "m", "m7"), (7, "7", "7"),
         (7, "m", "m7"), (8, "", "maj7"), (10, "", "7"))
BLUES = ((0, "", "7"), (0, "", "7"), (5, "", "7"), (7, "", "7"), (0, "m", "m7"))
SHARES = {"": 0.22, "m": 0.17, "7": 0.22, "maj7": 0.14, "m7": 0.19, "m7b5": 0.06}  # of chords from outside the key
OUTSIDE, SLASHED = 0.17, 0.08
CHORD_PROGRAMS, LEAD_PROGRAMS, BASS_PROGRAM = (4, 4, 16, 27, 27, 28, 89), (27, 4, 31, 16), 33
BASS, COMP, LEAD, DRUMS = 0, 1, 2, 9
DRAWN = ((), (COMP, LEAD), (BASS,), (COMP, LEAD, BASS))  # parts from numbers, by the piece's number
SURE_RIGHT = 0.95  # of the half bars that are called sure
PENALTY = 2.0  # on the square of each weight


def changes(rng: Random) -> list[tuple[int, str, int]]:
    """(root, quality, semitones from root to bass) of each half bar: triads, seventh chords or both, most in a key."""
    tonic, in_a_key = rng.randrange(12), rng.choice((MAJOR, MAJOR, MINOR, MINOR, BLUES))
    sevenths, slow = rng.choice((0.1, 0.5, 0.95, 0.95)), rng.random() < 0.5
    found: list[tuple[int, str, int]] = []
    while len(found) < 2 * BARS:
        if rng.random() < OUTSIDE:
            root, quality = rng.randrange(12), rng.choices(list(SHARES), list(SHARES.values()))[0]
        else:
            step, triad, seventh = rng.choice(in_a_key)
            root, quality = (tonic + step) % 12, seventh if rng.random() < sevenths else triad
        over = rng.choice((*TONES[quality][1:], 10, 2)) if rng.random() < SLASHED else 0
        inside_a_bar = len(found) % 2 == 1
        lengths = (2, 2, 4) if slow else (1,) if inside_a_bar else (1, 1, 2)
        found += [(root, quality, over)] * rng.choice(lengths)
    return found[:2 * BARS]


def bass_notes(chord: tuple[int, str, int], following: tuple[int, str, int], beats: int, way: str, rng: Random) -> Any:
    """(beat, length, midi, velocity) within a half bar."""
    root, quality, over = chord
    low = 28 + (root + over - 28) % 12
    if way == "long":
        yield 0, beats - 0.1, low, 98
    elif way == "fifths":
        yield 0, 0.9, low, 100
        if beats > 1:
            yield 1, 0.8, low + rng.choice((7, 0, -5 if low > 33 else 7)), 88
    elif way == "eighths":
        for half in range(2 * beats):
            yield half / 2, 0.42, low, 100 - 12 * (half % 2)
    elif way == "walking":
        yield 0, 0.9, low, 100
        goal = 28 + (following[0] + following[2] - 28) % 12
        for beat in range(1, beats):
            near = beat == beats - 1 and rng.random() < 0.6
            yield beat, 0.9, goal + rng.choice((-1, 1, 2)) if near else low + rng.choice(TONES[quality][1:]), 92
    else:
        for when, step in ((0, 0), (0.5, 0), (0.75, 12), (1.5, 7)):
            if when < beats and rng.random() < 0.8 + 0.2 * (when == 0):
                yield when, 0.22, low + step, 96 - 20 * (when > 0)


def voicing(chord: tuple[int, str, int], power: bool, rng: Random) -> list[int]:
    root, quality, _ = chord
    steps = list(TONES[quality])
    if power and quality == "":
        steps = [0, 7]
    elif rng.random() < 0.3:
        steps.append(rng.choice(COLOURS[quality]))
    if len(steps) > 3 and rng.random() < 0.35:
        steps.remove(7 if 7 in steps else steps[0])
    floor = rng.choice((43, 48, 52, 55, 60))
    return sorted({floor + (root + step - floor) % 12 + 12 * (rng.random() < 0.15) for step in steps})


def comp_notes(midis: list[int], beats: int, way: str, rng: Random) -> Any:
    loud = rng.randrange(60, 90)
    if way == "held":
        yield from ((0, beats - 0.05, midi, loud) for midi in midis)
    elif way == "picked":
        for half in range(2 * beats):
            yield half / 2, 1.0, midis[(half * 2) % len(midis)], loud
    else:
        times = {"stabs": (0.5, 1.5), "strummed": (0, 0.5, 1, 1.5), "after": (1,)}[way]
        for when in times:
            if when < beats:
                yield from ((when + 0.01 * place, 0.4, midi, loud) for place, midi in enumerate(midis))


@dataclass(frozen=True)
class Piece:
    """`edges` of its half bars and `beat` in seconds, the class of each half bar, the number that chose all."""

    audio: Any
    edges: list[float]
    beat: float
    classes: list[int]
    number: int


def piece(number: int) -> Piece:
    rng = Random(f"{SEED} piece {number}")
    beat, half = 60 / rng.uniform(55, 200), rng.choice((2, 2, 2, 2, 1, 3))
    chords = changes(rng) * PASSES
    edges = [0.4 + place * half * beat for place in range(len(chords) + 1)]
    notes = list(played(chords, edges, half, beat, rng))
    levels = {BASS: 0.8, COMP: rng.uniform(0.4, 1.1), LEAD: rng.uniform(0.3, 0.6), DRUMS: rng.uniform(0.2, 0.7)}
    programs = {BASS: BASS_PROGRAM, COMP: rng.choice(CHORD_PROGRAMS), LEAD: rng.choice(LEAD_PROGRAMS)}
    drawn = DRAWN[number % len(DRAWN)]
    cents = 0 if drawn else rng.choice((0, 0, 0, rng.uniform(-30, 30)))
    driven = rng.uniform(1.5, 12) if rng.random() < 0.35 else 0.0
    audio = np.zeros(round((edges[-1] + 1) * RATE))
    for part, level in levels.items():
        mine = [note for note in notes if note[2] == part]
        if not mine:
            continue
        if part in drawn:
            sound = drawn_notes(mine, len(audio), 10 * number + part)
        else:
            program = {part: programs[part]} if part in programs else {}
            sound = render_midi(midi_of(mine, program, cents))[:len(audio), 0]
        sound = sound / (np.abs(sound).max() + 1e-9)
        if part == COMP and driven:
            sound = np.tanh(driven * sound) / np.tanh(driven)  # an amplifier of its own
        audio[:len(sound)] += level * sound
    classes = [QUALITIES.index(quality) * 12 + root for root, quality, _ in chords]
    return Piece(treated(audio, number), edges, beat, classes, number)


def played(chords: list[tuple[int, str, int]], edges: list[float], half: int, beat: float, rng: Random) -> Any:
    """(start, end, part, midi, velocity) in seconds; a player mostly keeps to a voicing while a chord stands."""
    bass_way = rng.choice(("long", "fifths", "eighths", "walking", "walking", "broken"))
    comp_way = rng.choice(("held", "picked", "stabs", "strummed", "after"))
    with_lead, with_drums, with_bass = rng.random() < 0.4, rng.random() < 0.6, rng.random() > 0.08
    power, voices = rng.random() < 0.08, []
    for place, chord in enumerate(chords):
        if place == 0 or chords[place - 1] != chord or rng.random() < 0.2:
            voices = voicing(chord, power, rng)
        parts = [(COMP, comp_notes(voices, half, comp_way, rng))]
        if with_bass:
            parts.append((BASS, bass_notes(chord, chords[(place + 1) % len(chords)], half, bass_way, rng)))
        if with_lead:
            parts.append((LEAD, lead_notes(chord, half, rng)))
        if with_drums:
            parts.append((DRUMS, drum_notes(half, place)))
        for part, events in parts:
            for at, length, midi, velocity in events:
                yield edges[place] + at * beat, edges[place] + (at + length) * beat, part, midi, velocity


def drawn_notes(notes: list[tuple[float, float, int, int, float]], count: int, number: int) -> Any:
    """The notes as sums of partials, whose strengths fall off by chance, each piece its own way: plainly, as a string
    plucked somewhere, or with some of them missing; some as two a little apart. The higher ones fade faster."""
    rng = np.random.default_rng(number)
    partials = np.arange(1, 19)
    strengths = partials ** -rng.uniform(0.3, 2.2) * 10 ** (rng.normal(size=len(partials)) * 0.3)
    kind = rng.integers(4)
    if kind == 1:
        strengths = strengths * np.abs(np.sin(np.pi * partials * rng.uniform(0.08, 0.5))) + 1e-4
    if kind == 2:
        strengths = strengths * (rng.random(len(partials)) < 0.5)
        strengths[0] = max(strengths[0], 0.5)
    fading, faster = rng.uniform(0.3, 5), rng.uniform(0, 0.5)
    apart = rng.uniform(2, 12) if rng.random() < 0.25 else 0.0
    audio = np.zeros(count)
    for start, end, _, midi, velocity in notes:
        at, length = round(start * RATE), round((end - start + 0.08) * RATE)
        time = np.arange(max(0, min(length, count - at))) / RATE
        hz = 440 * 2 ** ((midi - 69) / 12)
        shape = np.minimum(1, time / 0.006) * np.clip((length / RATE - time) / 0.06, 0, 1) * np.exp(-fading * time)
        for cents in (-apart, apart) if apart else (0.0,):
            # Each partial is the one before, turned once more and faded.
            turn = np.exp((2j * np.pi * hz * 2 ** (cents / 1200) - fading * faster) * time)
            wave = turn * np.exp(1j * (midi + cents))
            for strength in strengths[:max(1, int(6_000 / hz))]:
                audio[at:at + len(time)] += velocity * strength * shape * wave.imag
                wave = wave * turn
    return audio


def in_a_room(audio: Any, rng: Random, number: int) -> Any:
    count = int(0.9 * RATE)
    noise = np.random.default_rng(7_777 + number).normal(size=count)
    tail = 0.03 * noise * np.exp(-np.arange(count) / (rng.uniform(0.1, 0.35) * RATE))
    tail[0] = 1 / rng.uniform(0.3, 1)
    return fftconvolve(audio, tail)[:len(audio)]


def treated(audio: Any, number: int) -> Any:
    """The audio as it might come from a room, an amplifier or a tape: brightened, driven, noisy."""
    rng = Random(f"treated {number}")
    audio = in_a_room(audio, rng, number) if rng.random() < 0.25 else audio
    audio = audio / np.abs(audio).max()
    way = rng.choice(("plain", "bright", "driven"))
    if way != "plain":
        brighter = audio - rng.uniform(0.3, 0.9) * np.concatenate([[0.0], audio[:-1]])
        audio = 0.8 * brighter / np.abs(brighter).max() + rng.uniform(0, 0.5) * audio
    if way == "driven":
        audio = np.tanh(rng.uniform(1.5, 7.0) * audio)
    noise = np.random.default_rng(number).normal(size=len(audio))
    return audio + noise * np.std(audio) * 10 ** -rng.uniform(1.2, 3.5)


def lead_notes(chord: tuple[int, str, int], beats: int, rng: Random) -> Any:
    root, quality, _ = chord
    for half in range(2 * beats):
        if rng.random() < 0.7:
            step = rng.choice((*TONES[quality], *TONES[quality], 2, 5, 9, 10))
            yield half / 2, 0.45, 62 + (root + step - 62) % 12 + rng.choice((0, 12)), 84


def drum_notes(beats: int, place: int) -> Any:
    for half in range(2 * beats):
        yield half / 2, 0.1, 42, 70 - 20 * (half % 2)
    yield (0, 0.1, 36, 100) if place % 2 == 0 else (0, 0.1, 38, 96)


def midi_of(notes: list[tuple[float, float, int, int, float]], programs: dict[int, int], cents: float) -> bytes:
    events: list[tuple[int, int, Any]] = []
    for channel, program in programs.items():
        events.append((0, 0, mido.Message("program_change", channel=channel, program=program)))
        events.append((0, 1, mido.Message("pitchwheel", channel=channel, pitch=round(cents / 200 * 8192))))
    for start, end, channel, midi, velocity in notes:
        level = max(1, min(127, round(velocity)))
        events.append((round(start * TICKS), 3, mido.Message("note_on", channel=channel, note=midi, velocity=level)))
        events.append((max(round(start * TICKS) + 50, round(end * TICKS)), 2,
                       mido.Message("note_off", channel=channel, note=midi)))
    return timed_midi(events)


@dataclass(frozen=True)
class Heard:
    """A piece as it is heard: the values of its half bars and of its bars, the class of each half bar."""

    halves: Any
    bars: Any
    classes: Any
    number: int

    @property
    def rows(self) -> tuple[Any, Any]:
        """What is learnt from it: every half bar, and every bar that is one chord."""
        first, second = self.classes[0::2], self.classes[1::2]
        one = first == second
        return np.concatenate([self.halves, self.bars[one]]), np.concatenate([self.classes, first[one]])


def heard(one: Piece) -> Heard:
    """Its grid lies a little off, as a grid that was found does."""
    notes = notes_of(of_samples(one.audio, RATE))
    off = Random(f"{SEED} grid {one.number}").uniform(-0.025, 0.025)
    edges = [edge + off for edge in one.edges]
    halves, bars = (chord_model.stretches(notes, some, one.beat) for some in (edges, edges[::2]))
    return Heard(halves, bars, np.array(one.classes), one.number)


def fitted(pieces: list[Heard]) -> Any:
    """(qualities, VALUES + 1) weights: multinomial logistic regression, those of a quality the same for every root."""
    parts = [one.rows for one in pieces]
    classes = np.concatenate([part[1] for part in parts])
    by_root = chord_model.turned(np.concatenate([part[0] for part in parts])).reshape(-1, VALUES + 1)
    count, rows = len(classes), np.arange(len(classes))

    def loss(flat: Any) -> tuple[float, Any]:
        weights = flat.reshape(len(QUALITIES), VALUES + 1)
        scores = (by_root @ weights.T).reshape(count, 12, -1).transpose(0, 2, 1).reshape(count, CLASSES)
        scores = scores - scores.max(axis=1, keepdims=True)
        chances = np.exp(scores)
        chances /= chances.sum(axis=1, keepdims=True)
        missed = -np.log(chances[rows, classes] + 1e-300).sum()
        chances[rows, classes] -= 1
        over = chances.reshape(count, -1, 12).transpose(1, 0, 2).reshape(len(QUALITIES), -1)
        return missed + PENALTY * (flat ** 2).sum(), (over @ by_root).ravel() + 2 * PENALTY * flat

    start = np.zeros(len(QUALITIES) * (VALUES + 1))
    done = minimize(loss, start, jac=True, method="L-BFGS-B",
                    options={"maxiter": 3_000, "maxfun": 4_000, "maxcor": 30, "ftol": 1e-15, "gtol": 1e-4})
    return done.x.reshape(len(QUALITIES), VALUES + 1)


def across_timbres(pieces: list[Heard]) -> tuple[Any, Any]:
    """(leads, which are right) of the chords of whole pieces by weights of the other kind of timbre: by font or drawn.

    A recording's timbres are new to the model as well: calibrated on sounds that it knows, it would be too sure.
    """
    leads: list[float] = []
    right: list[bool] = []
    for drawn in (0, 1):
        weights = Weights(fitted([one for one in pieces if one.number % 2 != drawn]), 1.0, 0.0)
        held = [one for one in pieces if one.number % 2 == drawn]
        before = len(right)
        for one in held:
            choices = heard_chords(one, weights)
            leads += [choice.lead for choice in choices]
            right += [choice.chord == truth for choice, truth in zip(choices, one.classes, strict=True)]
        print(f"{len(right) - before} half bars of timbres held back: {np.mean(right[before:]):.3f} right")
    return np.array(leads), np.array(right)


def heard_chords(one: Heard, weights: Weights) -> Any:
    """As a recording's chords are found when its grid is known."""
    logs = chord_model.log_likelihoods(one.halves, weights)
    cycle = cycle_bars(np.exp(logs).reshape(len(one.bars), -1))
    halves = averaged(logs, 2 * cycle)
    bars = averaged(chord_model.log_likelihoods(one.bars, weights), cycle)
    return decoded(halves, bars, favoured(in_key(halves), given=False))


def calibrated(leads: Any, right: Any) -> tuple[float, float]:
    """(slope, level) of a chord's confidence, as a logistic curve over its lead over the others.

    The slope is that of the chance that it is right; the level is such that of those with SURE and more SURE_RIGHT are.
    """
    signs = np.where(right, 1, -1)

    def loss(two: Any) -> float:
        return float(np.logaddexp(0, -signs * (two[0] * leads + two[1])).sum())

    slope, _ = minimize(loss, np.array([1.0, 0.0]), method="Nelder-Mead", options={"xatol": 1e-4}).x
    surest_first = np.argsort(-leads, kind="stable")
    shares = np.cumsum(right[surest_first]) / np.arange(1, len(right) + 1)
    least = leads[surest_first][np.flatnonzero(shares >= SURE_RIGHT)[-1]]
    print(f"sure of {np.mean(leads >= least):.3f} of them")
    return round(float(slope), 2), round(float(np.log(SURE / (1 - SURE)) - slope * least), 2)


def recipe() -> str:
    """The digest of all that the weights follow from, but the SoundFont."""
    ours = [Path(__file__), ROOT / "tests" / "support" / "timed_midi.py"]
    files = [*ours, *(ROOT / "workbook" / "listen" / name for name in HEARING)]
    return hashlib.sha256(b"".join(path.read_bytes() for path in files)).hexdigest()


def farthest(one: Path, other: Path) -> float:
    """The most by which a number of one file of weights lies off that of another."""
    first, second = (json.loads(path.read_text(encoding="utf-8")) for path in (one, other))
    apart = [np.subtract(first["weights"][quality], second["weights"][quality]) for quality in QUALITIES]
    apart.append(np.subtract(list(first["confidence"].values()), list(second["confidence"].values())))
    return float(np.abs(np.concatenate(apart)).max())


def main(target: Path) -> None:
    pieces = [heard(piece(number)) for number in range(PIECES)]
    slope, level = calibrated(*across_timbres(pieces))
    head = {"made by": "tests/tables/train_chords.py", "recipe": recipe(),
            "stretches": sum(len(one.rows[1]) for one in pieces),
            "sounds": "workbook/play/sounds/fluid-small (MIT), and sums of partials",
            "confidence": {"slope": slope, "level": level}}
    rows = [f"  {json.dumps(quality)}: {json.dumps(row)}" for quality, row in
            zip(QUALITIES, np.round(fitted(pieces), 2).tolist(), strict=True)]
    opened = json.dumps(head, indent=1)[:-2]
    target.write_text(f'{opened},\n "weights": {{\n' + ",\n".join(rows) + "\n }\n}\n", encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else WEIGHTS)
