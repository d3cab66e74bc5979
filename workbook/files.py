"""Files written whole or not at all: a temporary file in the same folder, flushed to disk, then renamed."""

from __future__ import annotations

import os
import re
import shutil
import tempfile
import unicodedata
from collections.abc import Mapping
from pathlib import Path

from theorylib.errors import VampError


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
    """A file name for a title: small ASCII letters, digits and single hyphens ("Low tide" is low-tide)."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    name = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:80].strip("-")
    if not name:
        raise FileError(f"“{title}” gives no file name", value=title, expected="a title with letters or digits")
    return name
