"""The mark of a pack: a small file in its folder that lists what this kit wrote there, so that it touches nothing else.

    {"files": {"handout.pdf": "<SHA-256>", …}, "format": "vampbook-pack", "kind": "lesson", "version": 1}

While a pack is being replaced its mark lists under "before" what stood there as well: whatever of both is found after a
crash is ours. The mark of a course also names the packs in its folder.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeGuard

from theorylib.errors import VampError

MARK = ".vampbook.json"
LESSON, COURSE = "lesson", "course"
_FORMAT, _VERSION = "vampbook-pack", 1


class PackError(VampError):
    """A folder in which a pack cannot be written without touching what is not ours."""


@dataclass(frozen=True, slots=True)
class Mark:
    """What we wrote: the digest of each file by name; while the pack is being replaced, the same of what stood there
    `before`; the names of the `packs` of a course, sorted."""

    kind: str
    files: Mapping[str, str]
    before: Mapping[str, str] | None = None
    packs: tuple[str, ...] = ()

    def is_ours(self, name: str, digest: str) -> bool:
        return digest in (self.files.get(name), (self.before or {}).get(name))

    @property
    def names(self) -> set[str]:
        return {*self.files, *(self.before or ())}

    def text(self) -> str:
        """The mark's file: of the same files the same bytes."""
        data: dict[str, Any] = {"format": _FORMAT, "version": _VERSION, "kind": self.kind, "files": dict(self.files)}
        if self.before is not None:
            data["before"] = dict(self.before)
        if self.packs:
            data["packs"] = self.packs
        return json.dumps(data, ensure_ascii=False, indent=1, sort_keys=True) + "\n"


def digest_of(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def read_mark(folder: Path) -> Mark | None:
    """The mark of a folder, none where there is none; raises PackError for one that cannot be understood."""
    path = folder / MARK
    try:
        if path.exists() and not path.is_file():
            raise _unreadable(path)  # a pipe would never be read to its end
        data = json.loads(path.read_text(encoding="utf-8"))
    except (FileNotFoundError, NotADirectoryError):
        return None
    except (OSError, ValueError, RecursionError) as error:
        raise _unreadable(path) from error
    if not isinstance(data, dict) or data.get("format") != _FORMAT:
        raise _unreadable(path)
    if data.get("version") != _VERSION:
        raise PackError(f"{folder} holds a pack of another version of this kit", value=data.get("version"),
                        where=str(path), expected=f"version {_VERSION}, or another folder with --out")
    files, before, packs = data.get("files"), data.get("before"), data.get("packs", [])
    named = isinstance(packs, list) and all(map(is_name, packs)) and (before is None or _are_digests(before))
    if data.get("kind") not in (LESSON, COURSE) or not named or not _are_digests(files):
        raise _unreadable(path)
    return Mark(data["kind"], files, before, tuple(packs))


def _are_digests(found: Any) -> TypeGuard[dict[str, str]]:
    return isinstance(found, dict) and all(is_name(name) and isinstance(one, str) for name, one in found.items())


def is_name(found: Any) -> bool:
    """Whether this is a plain name: one with a path in it could lead out of the folder."""
    return isinstance(found, str) and found not in ("", ".", "..", MARK) and not set(found) & set("/\\:\0")


def _unreadable(path: Path) -> PackError:
    return PackError(f"{path} is no mark of a pack", value=str(path),
                     expected="that file moved away, or another folder with --out")
