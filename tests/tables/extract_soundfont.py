"""Writes the small SoundFont that comes with us: the voices that we play, cut out of Fluid (R3) Mono GM (MIT).

    python tests/tables/extract_soundfont.py FluidR3Mono_GM.sf3 workbook/play/sounds

The source is the file of Debian's package fluidr3mono-gm-soundfont 2.315-7 (sha256 below). Presets, instruments and
their settings are taken as they are, without chorus and reverberation, and with a shorter release of two voices: they
blur a bend's pitch and where a note ends; and the highest sample of a voice serves all notes above.
Samples, which the source packs as Ogg Vorbis, are unpacked to 16 bit, each as far as its loop reaches where it loops,
and packed as FLAC, which loses nothing. `tables` holds the two lists of a SoundFont (2.04) around the samples;
workbook/play/voices.py puts the three together again.
"""

from __future__ import annotations

import hashlib
import io
import struct
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

SOURCE_SHA256 = "cda013d8c370a48ae8dad271e761078d2e77455488dabdedbfbe5fc76a38c682"
# (bank, program): electric piano, organ, clean, muted and harmonics, bass, pad; the drums that styles strike, with
# sticks and with brushes.
PRESETS = ((0, 4), (0, 16), (0, 27), (0, 28), (0, 31), (0, 33), (0, 89), (128, 0), (128, 40))
RECORDS = {"phdr": "<20sHHHIII", "pbag": "<HH", "pmod": "<HHhHH", "pgen": "<HH", "inst": "<20sH", "ibag": "<HH",
           "imod": "<HHhHH", "igen": "<HH", "shdr": "<20sIIIIIBbHH"}
INSTRUMENT, KEYS, SAMPLE, LOOPS = 41, 43, 53, 54  # generators
EFFECTS, RELEASE = (15, 16), 38                   # chorus and reverberation; how long a note dies away
SHORTER = {(0, 27): -5000, (0, 89): -2400}        # timecents on the release of the clean voice and of the pad
LOOPS_ALWAYS = 1                                  # the loop's value for one that goes on while the note dies away
PACKED = 0x10                                     # in a sample's type: Ogg Vorbis
GAP = 46                                          # silent samples after each, as the format asks


def chunks(data: bytes, start: int, end: int) -> Iterator[tuple[str, int, int]]:
    while start + 8 <= end:
        size = struct.unpack_from("<I", data, start + 4)[0]
        yield data[start:start + 4].decode("ascii"), start + 8, size
        start += 8 + size


@dataclass
class Bank:
    """A SoundFont's tables of records, and its samples as one stretch of bytes."""

    tables: dict[str, list[Any]]
    samples: bytes

    @classmethod
    def read(cls, data: bytes) -> Bank:
        tables: dict[str, list[Any]] = {}
        samples = b""
        for _, start, size in chunks(data, 12, len(data)):
            for name, at, length in chunks(data, start + 4, start + size):
                if name == "smpl":
                    samples = data[at:at + length]
                elif name in RECORDS:
                    tables[name] = list(struct.iter_unpack(RECORDS[name], data[at:at + length]))
        return cls(tables, samples)

    def zones(self, kind: str, index: int) -> Iterator[tuple[list[Any], list[Any]]]:
        """(generators, modulators) of each zone of a preset ("p") or an instrument ("i")."""
        heads = self.tables["phdr" if kind == "p" else "inst"]
        place = 3 if kind == "p" else 1
        bags = self.tables[f"{kind}bag"]
        for bag in range(heads[index][place], heads[index + 1][place]):
            (gen, mod), (last_gen, last_mod) = bags[bag], bags[bag + 1]
            yield self.tables[f"{kind}gen"][gen:last_gen], self.tables[f"{kind}mod"][mod:last_mod]

    def wave(self, index: int) -> Any:
        """A sample's numbers as 16 bit."""
        import numpy as np
        import soundfile

        head = self.tables["shdr"][index]
        if head[9] & PACKED:
            return soundfile.read(io.BytesIO(self.samples[head[1]:head[2]]), dtype="int16")[0]
        return np.frombuffer(self.samples, "<i2")[head[1]:head[2]]


@dataclass
class Cut:
    """What is taken over: instruments and samples by their old number, in the order in which they were met."""

    source: Bank
    keys: frozenset[int]                                            # of the drums
    instruments: dict[tuple[int, bool], int] = field(default_factory=dict)
    samples: dict[int, bool] = field(default_factory=dict)          # whether it loops wherever it is used
    tables: dict[str, list[Any]] = field(default_factory=lambda: {name: [] for name in RECORDS})

    def presets(self) -> None:
        heads = self.source.tables["phdr"]
        for bank, program in PRESETS:
            index = next(at for at, head in enumerate(heads) if (head[2], head[1]) == (bank, program))
            head = heads[index]
            self.tables["phdr"].append((head[0], program, bank, len(self.tables["pbag"]), 0, 0, 0))
            for gens, mods in self.source.zones("p", index):
                if (bank, program) in SHORTER:
                    gens = shortened(gens, SHORTER[bank, program])
                self.add("p", [(kind, self.instrument(value, bank == 128) if kind == INSTRUMENT else value)
                               for kind, value in gens], mods)
        for (old, drums), _ in list(self.instruments.items()):
            self.tables["inst"].append((self.source.tables["inst"][old][0], len(self.tables["ibag"])))
            zones = list(self.source.zones("i", old))
            top = max((value >> 8 for gens, _ in zones for kind, value in gens if kind == KEYS), default=127)
            for gens, mods in zones:
                if not drums:  # the highest sample serves all notes above
                    gens = [(kind, value & 255 | 127 << 8) if kind == KEYS and value >> 8 == top else (kind, value)
                            for kind, value in gens]
                if self.needed(gens, drums):
                    looping = dict(gens).get(LOOPS, 0) == LOOPS_ALWAYS
                    self.add("i", [(kind, self.sample(value, looping) if kind == SAMPLE else value)
                                   for kind, value in gens], mods)

    def needed(self, gens: list[Any], drums: bool) -> bool:
        low_high = dict(gens).get(KEYS)
        return not drums or low_high is None or any(low_high & 255 <= key <= low_high >> 8 for key in self.keys)

    def instrument(self, old: int, drums: bool) -> int:
        return self.instruments.setdefault((old, drums), len(self.instruments))

    def sample(self, old: int, looping: bool) -> int:
        self.samples[old] = self.samples.get(old, True) and looping
        return list(self.samples).index(old)

    def add(self, kind: str, gens: list[Any], mods: list[Any]) -> None:
        self.tables[f"{kind}bag"].append((len(self.tables[f"{kind}gen"]), len(self.tables[f"{kind}mod"])))
        self.tables[f"{kind}gen"] += [one for one in gens if one[0] not in EFFECTS]
        self.tables[f"{kind}mod"] += mods

    def written(self, words: dict[str, bytes]) -> tuple[bytes, Any]:
        """The two lists of tables, and all samples in a row."""
        import numpy as np

        self.presets()
        waves = []
        now = 0
        for old, looping in self.samples.items():
            name, _, _, loop, loop_end, rate, key, tune, _, _ = self.source.tables["shdr"][old]
            wave = self.source.wave(old)
            if looping:
                wave = wave[:loop_end + 8]  # what lies after the loop is never played
            waves += [wave, np.zeros(GAP, dtype="int16")]
            places = (now, now + len(wave), now + loop, now + min(loop_end, len(wave)))
            self.tables["shdr"].append((name, *places, rate, key, tune, 0, 1))
            now += len(wave) + GAP
        bags, instrument_bags = len(self.tables["pbag"]), len(self.tables["ibag"])
        self.tables["phdr"].append((b"EOP", 0, 0, bags, 0, 0, 0))
        self.tables["inst"].append((b"EOI", instrument_bags))
        self.tables["shdr"].append((b"EOS", 0, 0, 0, 0, 0, 0, 0, 0, 0))
        for kind in "pi":
            self.tables[f"{kind}bag"].append((len(self.tables[f"{kind}gen"]), len(self.tables[f"{kind}mod"])))
            self.tables[f"{kind}gen"].append((0, 0))
            self.tables[f"{kind}mod"].append((0, 0, 0, 0, 0))
        info = b"".join(chunk(name, text + bytes(2 - len(text) % 2)) for name, text in words.items())
        rows = b"".join(chunk(name, b"".join(struct.pack(form, *row) for row in self.tables[name]))
                        for name, form in RECORDS.items())
        version = chunk("ifil", struct.pack("<HH", 2, 4))
        return listed("INFO", version + info) + listed("pdta", rows), np.concatenate(waves)


def shortened(gens: list[Any], timecents: int) -> list[Any]:
    """A preset's zone with its release set; the instrument stays the last, as the format asks."""
    rest = [one for one in gens if one[0] not in (RELEASE, INSTRUMENT)]
    return [*rest, (RELEASE, timecents & 0xFFFF), *(one for one in gens if one[0] == INSTRUMENT)]


def chunk(name: str, data: bytes) -> bytes:
    return name.encode("ascii") + struct.pack("<I", len(data)) + data


def listed(name: str, data: bytes) -> bytes:
    return chunk("LIST", name.encode("ascii") + data)


def small(source: bytes) -> tuple[bytes, Any]:
    """Tables and samples of the small SoundFont."""
    from workbook.play.style import DRUM_KEYS

    return Cut(Bank.read(source), frozenset(DRUM_KEYS.values())).written({
        "isng": b"EMU8000", "INAM": b"Fluid (R3) Mono, a few voices",
        "ICOP": b"Copyright (c) Frank Wen, Michael Cowgill and others; MIT licence, see LICENSE-Fluid.txt"})


def main(source: Path, folder: Path) -> None:
    import soundfile

    data = source.read_bytes()
    if hashlib.sha256(data).hexdigest() != SOURCE_SHA256:
        raise SystemExit(f"{source} is not the file that this script was written for")
    tables, samples = small(data)
    (folder / "fluid-small.tables").write_bytes(tables)
    soundfile.write(folder / "fluid-small.flac", samples, 22050, subtype="PCM_16", compression_level=1.0)


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
