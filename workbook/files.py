"""Files written whole or not at all: a temporary file in the same folder, flushed to disk, then renamed."""

from __future__ import annotations

import os
import re
import shutil
import tempfile
import unicodedata
from collections.abc import Iterator, Mapping
from pathlib import Path

from theorylib.errors import VampError

_LONGEST_SIGNS, _LONGEST_BYTES = 80, 200                    # of a name, so that what is written beside it fits too
_OF_WINDOWS = re.compile(r"con|prn|aux|nul|(com|lpt)\d")    # devices there, whatever their ending
_CHOOSES_FORM = re.compile("[\u034f\u180b-\u180f\ufe00-\ufe0f\U000e0100-\U000e01ef]")  # variation selectors


class FileError(VampError):
    """A file or folder that cannot be read or written."""


def write_whole(path: Path, content: bytes | str) -> None:
    """Write `content` to `path` so that a reader sees the old file or the new one, never a part."""
    data = content.encode() if isinstance(content, str) else content
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            os.chmod(name, 0o644)
            os.replace(name, path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise FileError(f"cannot write {path}: {error.strerror or error}", value=str(path)) from error


def write_folder(folder: Path, files: Mapping[str, bytes | str]) -> None:
    """Replace `folder` by one that holds exactly `files`; a failure leaves the old folder as it was."""
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        fresh = Path(tempfile.mkdtemp(prefix=f".{folder.name}.", dir=folder.parent))
    except OSError as error:
        raise FileError(f"cannot write in {folder.parent}: {error.strerror or error}", value=str(folder)) from error
    try:
        for name, content in files.items():
            write_whole(fresh / name, content)
        fresh.chmod(0o755)
        if folder.exists():
            old = Path(tempfile.mkdtemp(prefix=f".{folder.name}.old.", dir=folder.parent))
            os.replace(folder, old / "pack")
            os.replace(fresh, folder)
            shutil.rmtree(old, ignore_errors=True)
        else:
            os.replace(fresh, folder)
    except OSError as error:
        raise FileError(f"cannot write {folder}: {error.strerror or error}", value=str(folder)) from error
    finally:
        shutil.rmtree(fresh, ignore_errors=True)


def read_text(path: Path) -> str:
    """The text of a UTF-8 file; raises FileError saying what is wrong with it."""
    try:
        return path.read_text(encoding="utf-8")
    except OSError as error:
        raise FileError(f"cannot read {path}: {error.strerror or error}", value=str(path)) from error
    except UnicodeDecodeError as error:
        raise FileError(f"{path} is not a text file in UTF-8 (byte {error.start})", value=str(path)) from error


def slug(title: str) -> str:
    """A file name for a title: small letters and digits of any script, single hyphens ("Low tide" is low-tide).

    Normalised, and safe on every system: no more than 80 signs or 200 bytes, and no name that Windows keeps for itself.
    """
    plain = unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", title).lower())
    whole = "-".join(_words(plain))
    name = fits = whole[:_LONGEST_SIGNS].encode()[:_LONGEST_BYTES].decode(errors="ignore")
    while name and name != whole and unicodedata.category(whole[len(name)])[0] == "M":
        name = name[:-1]  # a letter is not cut from its signs
    name = (name or fits).strip("-")
    if not name:
        raise FileError(f"“{title}” gives no file name", value=title,
                        expected="a title with letters or digits, of any script")
    return f"{name}-" if _OF_WINDOWS.fullmatch(name) else name


def folded(name: str) -> str:
    """What a file system that ignores case may take a name for: equal for two that cannot lie side by side."""
    return unicodedata.normalize("NFC", name.casefold())


def _words(text: str) -> Iterator[str]:
    """The runs of letters and digits in a text, each letter with its signs; what only joins them is gone."""
    word = ""
    for sign in text:
        kind = unicodedata.category(sign)
        if kind == "Cf" or _CHOOSES_FORM.match(sign):
            continue
        if kind[0] in "LN" or (kind[0] == "M" and word):
            word += sign
        elif word:
            yield word
            word = ""
    if word:
        yield word
