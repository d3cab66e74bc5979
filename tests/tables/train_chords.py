"""Makes workbook/listen/chord_weights.json: renders a few hundred bars of its own, and fits the chord model to them.

    python tests/tables/train_chords.py [workbook/listen/chord_weights.json]

The recipe is all here and seeded: chords, parts and sounds are chosen by a random generator of Python's, played by this
script's own little band, and rendered with the SoundFont that comes with us (fluid-small, from Fluid (R3) Mono, MIT).
No recording of anybody goes in. Nothing of the product's arranger is used, so that the weights do not follow it; what
the script does use is the renderer (`render_midi`) and the listening itself (`notes_of`, `stretches`). The same files
give the same bytes; `recipe` in the result is the digest of this file, of its writer of MIDI and of what hears.
Two minutes.
"""

from __future__ import annotations

import hashlib
import json
import sys
from pathlib import Path
from random import Random
from typing import Any

import mido
import numpy as np
from scipy.optimize import minimize

ROOT = Path(__file__).resolve().parents[2]
if __name__ == "__main__":
    sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from support.timed_midi import TICKS, timed_midi  # noqa: E402

from workbook.listen.chord_model import CLASSES, QUALITIES, VALUES, WEIGHTS, class_scores, stretches, turned  # noqa: E402
from workbook.listen.recording import of_samples  # noqa: E402
from workbook.listen.spectra import notes_of  # noqa: E402
from workbook.play.sound import render_midi  # noqa: E402

PIECES, BARS, SEED, RATE = 200, 8, 20_260, 48_000
HEARING = ("recording.py", "spectra.py", "chord_model.py")
# Semitones over the root, and what a player may add to them.
TONES = {"": (0, 4, 7), "m": (0, 3, 7), "7": (0, 4, 7, 10), "maj7": (0, 4, 7, 11), "m7": (0, 3, 7, 10),
         "m7b5": (0, 3, 6, 10)}
COLOURS = {"": (14, 9), "m": (14,), "7": (14, 21, 13, 15), "maj7": (14, 18), "m7": (14, 17), "m7b5": (17,)}
SHARES = {"": 0.22, "m": 0.17, "7": 0.22, "maj7": 0.14, "m7": 0.19, "m7b5": 0.06}
MOVES = (5, 5, 5, 7, 2, 10, 9, 3, 8, 4, 1, 0)  # how far one root lies over the one before
CHORD_PROGRAMS, LEAD_PROGRAMS, BASS_PROGRAM = (4, 4, 27, 27, 28, 89), (27, 4, 31), 33
BASS, COMP, LEAD, DRUMS = 0, 1, 2, 9
PENALTY = 0.3  # on the square of each weight


def changes(rng: Random) -> list[tuple[int, str, int]]:
    """(root, quality, semitones from root to bass) of each half bar."""
    found, root = [], rng.randrange(12)
    while len(found) < 2 * BARS:
        quality = rng.choices(list(SHARES), list(SHARES.values()))[0]
        over = rng.choice(TONES[quality][1:]) if rng.random() < 0.08 else 0
        found += [(root, quality, over)] * rng.choice((1, 2, 2, 2, 4))
        root = (root + rng.choice(MOVES)) % 12
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


def voicing(chord: tuple[int, str, int], rng: Random) -> list[int]:
    root, quality, _ = chord
    steps = list(TONES[quality])
    if rng.random() < 0.35:
        steps.append(rng.choice(COLOURS[quality]))
    if len(steps) > 3 and rng.random() < 0.35:
        steps.remove(7 if 7 in steps else steps[0])
    floor = rng.choice((48, 52, 55, 60))
    return sorted(floor + (root + step - floor) % 12 + 12 * (rng.random() < 0.15) for step in set(steps))


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


def piece(number: int) -> tuple[Any, list[float], float, list[int]]:
    """(audio, edges of its half bars in seconds, seconds of a beat, class of each half bar)."""
    rng = Random(SEED + number)
    beat, half = 60 / rng.uniform(60, 190), rng.choice((2, 2, 2, 2, 1, 3))
    chords = changes(rng)
    bass_way = rng.choice(("long", "fifths", "eighths", "walking", "walking", "broken"))
    comp_way = rng.choice(("held", "picked", "stabs", "strummed", "after"))
    with_lead, with_drums, loud = rng.random() < 0.4, rng.random() < 0.6, rng.uniform(0.6, 1.1)
    notes: list[tuple[float, float, int, int, float]] = []
    for place, chord in enumerate(chords):
        first = 0.4 + place * half * beat
        following = chords[(place + 1) % len(chords)]
        parts = [(BASS, bass_notes(chord, following, half, bass_way, rng), 1.0),
                 (COMP, comp_notes(voicing(chord, rng), half, comp_way, rng), loud)]
        if with_lead:
            parts.append((LEAD, lead_notes(chord, half, rng), 0.9))
        if with_drums:
            parts.append((DRUMS, drum_notes(half, place), 1.0))
        notes += [(first + at * beat, first + (at + length) * beat, channel, midi, velocity * share)
                  for channel, events, share in parts for at, length, midi, velocity in events]
    programs = {BASS: BASS_PROGRAM, COMP: rng.choice(CHORD_PROGRAMS), LEAD: rng.choice(LEAD_PROGRAMS)}
    drawn = number % 2 == 1  # every other piece has its upper parts from numbers: timbres without end
    by_font = [note for note in notes if not drawn or note[2] in (BASS, DRUMS)]
    audio = render_midi(midi_of(by_font, programs, rng.choice((0, 0, 0, rng.uniform(-30, 30)))))[:, 0]
    if drawn:
        upper = drawn_notes([note for note in notes if note[2] in (COMP, LEAD)], len(audio), number)
        audio = audio / np.abs(audio).max() + rng.uniform(0.4, 1.2) * upper
    edges = [0.4 + place * half * beat for place in range(len(chords) + 1)]
    return treated(audio, number), edges, beat, [QUALITIES.index(quality) * 12 + root for root, quality, _ in chords]


def drawn_notes(notes: list[tuple[float, float, int, int, float]], count: int, number: int) -> Any:
    """The notes as sums of partials, whose strengths fall off by chance, each piece its own way; peak 1."""
    rng = np.random.default_rng(number)
    partials = np.arange(1, 15)
    strengths = partials ** -rng.uniform(0.4, 2.4) * 10 ** (rng.normal(size=len(partials)) * 0.3)
    fading = rng.uniform(0.5, 5.0)
    audio = np.zeros(count)
    for start, end, _, midi, velocity in notes:
        at, length = round(start * RATE), round((end - start + 0.08) * RATE)
        time = np.arange(max(0, min(length, count - at))) / RATE
        hz = 440 * 2 ** ((midi - 69) / 12)
        shape = np.minimum(1, time / 0.006) * np.exp(-fading * time) * np.clip((length / RATE - time) / 0.06, 0, 1)
        kept = partials[partials * hz < 9_000]
        wave = sum(strengths[one - 1] * np.sin(2 * np.pi * hz * one * time + one * midi) for one in kept)
        audio[at:at + len(time)] += velocity * shape * wave
    return audio / (np.abs(audio).max() + 1e-9)


def treated(audio: Any, number: int) -> Any:
    """The audio as it might come from a room, an amplifier or a tape: brightened, driven, noisy."""
    rng = Random(f"treated {number}")
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


def data() -> tuple[Any, Any, Any]:
    """(values, class, piece) of every half bar; each piece once on its grid, once with a grid a little off."""
    values, classes, pieces = [], [], []
    for number in range(PIECES):
        audio, edges, beat, labels = piece(number)
        sounded = notes_of(of_samples(audio, RATE))
        shift = Random(number).uniform(-0.03, 0.03)
        for off in (0.0, shift):
            values.append(stretches(sounded, [edge + off for edge in edges], beat))
            classes += labels
            pieces += [number] * len(labels)
    return np.concatenate(values), np.array(classes), np.array(pieces)


def fitted(values: Any, classes: Any) -> Any:
    """(qualities, VALUES + 1) weights: multinomial logistic regression, those of a quality the same for every root."""
    by_root = turned(values)
    rows = np.arange(len(values))

    def loss(flat: Any) -> tuple[float, Any]:
        weights = flat.reshape(len(QUALITIES), VALUES + 1)
        scores = class_scores(values, weights)
        scores -= scores.max(axis=1, keepdims=True)
        chances = np.exp(scores)
        chances /= chances.sum(axis=1, keepdims=True)
        missed = -np.log(chances[rows, classes] + 1e-300).sum()
        chances[rows, classes] -= 1
        slope = np.einsum("nqr,nrk->qk", chances.reshape(len(values), len(QUALITIES), 12), by_root)
        return missed + PENALTY * (flat ** 2).sum(), slope.ravel() + 2 * PENALTY * flat

    start = np.zeros(len(QUALITIES) * (VALUES + 1))
    done = minimize(loss, start, jac=True, method="L-BFGS-B", options={"maxiter": 400})
    return done.x.reshape(len(QUALITIES), VALUES + 1)


def across_timbres(values: Any, classes: Any, drawn: Any) -> tuple[Any, Any]:
    """(scores, which are right) of each kind of timbre by weights that were fitted to the other kind alone.

    A recording's timbres are new to the model as well: calibrated on sounds that it knows, it would be too sure.
    """
    scores, right = [], []
    for held in (drawn, ~drawn):
        tried = class_scores(values[held], fitted(values[~held], classes[~held])).reshape(-1, CLASSES)
        scores.append(tried)
        right.append(tried.argmax(axis=1) == classes[held])
        print(f"{held.sum()} half bars of timbres held back: {right[-1].mean():.3f} right in root and quality")
    return np.concatenate(scores), np.concatenate(right)


def calibrated(scores: Any, right: Any) -> tuple[float, float]:
    """(slope, level) of the chance that the best class is right, as a logistic curve over its lead over the others."""
    ordered = np.sort(scores, axis=1)
    lead = ordered[:, -1] - np.log(np.exp(ordered[:, :-1]).sum(axis=1))

    def loss(two: Any) -> float:
        return float(np.logaddexp(0, -np.where(right, 1, -1) * (two[0] * lead + two[1])).sum())

    slope, level = minimize(loss, np.array([1.0, 0.0]), method="Nelder-Mead", options={"xatol": 1e-4}).x
    return round(float(slope), 2), round(float(level), 2)


def recipe() -> str:
    """The digest of all that the weights follow from, but the SoundFont."""
    ours = [Path(__file__), ROOT / "tests" / "support" / "timed_midi.py"]
    files = [*ours, *(ROOT / "workbook" / "listen" / name for name in HEARING)]
    return hashlib.sha256(b"".join(path.read_bytes() for path in files)).hexdigest()


def main(target: Path) -> None:
    values, classes, pieces = data()
    slope, level = calibrated(*across_timbres(values, classes, pieces % 2 == 1))
    rows = np.round(fitted(values, classes), 3)
    weights = {quality: row.tolist() for quality, row in zip(QUALITIES, rows, strict=True)}
    written = {"made by": "tests/tables/train_chords.py", "recipe": recipe(), "half bars": len(classes),
               "sounds": "workbook/play/sounds/fluid-small (MIT)", "confidence": {"slope": slope, "level": level},
               "weights": weights}
    target.write_text(json.dumps(written, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else WEIGHTS)
