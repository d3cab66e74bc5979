"""XML from outside, plain or packed (.mxl), as an element tree: within bounds, nothing fetched, nothing expanded.

A document type is passed over; one that declares entities is refused, as no music needs them. Encodings are those that
XML names itself (UTF-8, UTF-16, Latin-1 …). Prefixes and namespaces of elements are dropped: MusicXML has none.
"""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
import zipfile
import zlib
from io import BytesIO
from typing import NoReturn
from xml.parsers import expat

from theorylib.errors import MusicFileError, shown

MOST_BYTES = 60_000_000   # unpacked; a long orchestral movement takes 20 million
MOST_ELEMENTS = 1_500_000  # a note takes about ten
DEEPEST = 64              # elements within elements; music stays below a dozen
CONTAINER = "META-INF/container.xml"  # says which file of a packed score is the score (MusicXML 4.0, W3C)


def xml_tree(content: bytes | str) -> ElementTree.Element:
    """The root of an XML document, of bytes or text, packed or not; raises MusicFileError with line and column."""
    if isinstance(content, bytes) and content[:4] == b"PK\x03\x04":
        content = _unpacked(content)
    _within_size(len(content))
    return _Builder().build(content)


class _Builder:
    """One parse of one document; short-lived."""

    def __init__(self) -> None:
        self.target = ElementTree.TreeBuilder()
        self.depth = self.count = 0

    def build(self, content: bytes | str) -> ElementTree.Element:
        try:
            # A text is read already: whatever encoding it names counts no more.
            data, encoding = (content, None) if isinstance(content, bytes) else (content.encode(), "utf-8")
            parser = expat.ParserCreate(encoding, namespace_separator=" ")
        except UnicodeEncodeError as error:
            raise MusicFileError("this is no XML: it holds half a character", value=error.reason,
                                 expected="a MusicXML document") from error
        parser.buffer_text = True
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        parser.CharacterDataHandler = self.target.data
        parser.EntityDeclHandler = self._entity
        self.parser = parser
        try:
            parser.Parse(data, True)
        except (expat.ExpatError, LookupError, ValueError) as error:
            if isinstance(error, MusicFileError):
                raise
            raise MusicFileError(f"this is no XML: {shown(error, 120)}", value=shown(content), where=self._where(),
                                 expected="a MusicXML document") from error
        return self.target.close()

    def _where(self) -> str:
        return f"line {self.parser.CurrentLineNumber}, column {self.parser.CurrentColumnNumber + 1}"

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        self.depth += 1
        self.count += 1
        if self.depth > DEEPEST:
            raise MusicFileError(f"elements within elements {self.depth} deep", value=self.depth, where=self._where(),
                                 expected=f"{DEEPEST} at most")
        if self.count > MOST_ELEMENTS:
            raise MusicFileError(f"more than {MOST_ELEMENTS:,} elements", value=self.count, where=self._where(),
                                 expected="a piece of music that a person plays")
        self.target.start(_plain(name), attributes)

    def _end(self, name: str) -> None:
        self.depth -= 1
        self.target.end(_plain(name))

    def _entity(self, name: str, *_: object) -> NoReturn:
        raise MusicFileError(f"the document declares an entity “{shown(name)}”", value=name, where=self._where(),
                             expected="MusicXML, which needs none")


def _plain(name: str) -> str:
    return name.rpartition(" ")[2]


def _unpacked(content: bytes) -> bytes:
    """The score within a packed file."""
    try:
        with zipfile.ZipFile(BytesIO(content)) as packed:
            names = packed.namelist()
            if CONTAINER in names:
                root = _Builder().build(_member(packed, CONTAINER)).find("rootfiles/rootfile")
                name = None if root is None else root.get("full-path")
            else:
                name = next((one for one in names if one.endswith((".xml", ".musicxml"))), None)
            if name is None or name not in names:
                raise MusicFileError("the packed file holds no score", value=name,
                                     expected=f"a score that {CONTAINER} names")
            return _member(packed, name)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, OSError) as error:
        raise MusicFileError(f"the packed file cannot be opened: {shown(error, 80)}", value="mxl",
                             expected="a packed MusicXML file, whole and without a password") from error


def _member(packed: zipfile.ZipFile, name: str) -> bytes:
    """One file of the pack, read no further than the bound whatever size it claims."""
    with packed.open(name) as member:
        content = member.read(MOST_BYTES + 1)
    _within_size(len(content))
    return content


def _within_size(size: int) -> None:
    if size > MOST_BYTES:
        raise MusicFileError("the document is too long", value=size, expected=f"{MOST_BYTES:,} bytes at most, unpacked")
