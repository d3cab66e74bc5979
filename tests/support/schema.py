"""The W3C's MusicXML 4.0 schema, from PyPI `musicxml` 1.6.3, with local stubs for what it imports."""

from __future__ import annotations

from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path

from lxml import etree

STUBS = Path(__file__).resolve().parents[1] / "tables" / "xsd"


class _Local(etree.Resolver):
    def resolve(self, url: str, public_id: str, context: object) -> object:
        name = url.rsplit("/", 1)[-1]
        return self.resolve_filename(str(STUBS / name), context) if name in ("xml.xsd", "xlink.xsd") else None


def schema_path() -> Path:
    spec = find_spec("musicxml")
    assert spec is not None
    assert spec.submodule_search_locations
    return next(Path(spec.submodule_search_locations[0]).rglob("musicxml_4_0.xsd"))


@lru_cache(maxsize=1)
def schema() -> etree.XMLSchema:
    path = schema_path()
    parser = etree.XMLParser()
    parser.resolvers.add(_Local())
    return etree.XMLSchema(etree.parse(str(path), parser))


def validate(text: str) -> None:
    document = etree.fromstring(text.encode(), etree.XMLParser(load_dtd=False, no_network=True))
    assert schema().validate(document), str(schema().error_log)
