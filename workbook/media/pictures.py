"""A photograph or drawing made fit for a handout: upright, no finer than print shows, and nothing but the picture.

What a camera notes beside the picture (place, time, device, owner, a small copy) does not come along: the pixels are
drawn into a new picture, and only they are written. Same bytes in, same bytes out.
"""

from __future__ import annotations

import base64
import io
import re
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from .kinds import (
    DRAWING,
    JPEG,
    MOST_DRAWING_MB,
    MOST_PICTURE_MB,
    MOST_PIXELS,
    PICTURE,
    PNG,
    SVG,
    TAKEN,
    MediaError,
    kind_of,
    within_size,
)

if TYPE_CHECKING:
    from PIL.Image import Image

WIDEST_MM, TALLEST_MM = 170.0, 120.0  # of a picture that does not say its own width
DOTS_AN_INCH = 220                    # beyond which paper at reading distance shows nothing more (common practice)
SCREEN_DOTS = 96                      # an inch of a picture's own size, by CSS
_QUALITY = 82                         # of JPEG: no fault to be seen in print (common practice)
_PNG_AS_PHOTO_BYTES = 150_000         # from which on a PNG is tried as JPEG
_SHARE = 0.6                          # of its bytes below which it stays one
_MM = 25.4
_LENGTH = re.compile(r"\s*([\d.]{1,12})\s*(px|mm|cm|in|pt|)\s*")
_PIXELS_A_UNIT = {"": 1.0, "px": 1.0, "mm": SCREEN_DOTS / _MM, "cm": 10 * SCREEN_DOTS / _MM, "in": SCREEN_DOTS,
                  "pt": SCREEN_DOTS / 72}


@dataclass(frozen=True, slots=True)
class Fit:
    """A picture as a handout holds it: its media type, its bytes, its size in pixels and its width on the page."""

    mime: str
    data: bytes
    width: int
    height: int
    width_mm: float

    @property
    def base64(self) -> str:
        return base64.b64encode(self.data).decode()

    @property
    def text(self) -> str:
        """A drawing's SVG."""
        return self.data.decode()


@lru_cache(maxsize=16)
def fitted(data: bytes, name: str, width_mm: float | None = None) -> Fit:
    """A picture made fit, at most as wide as asked for; `name` is what a refusal calls it.

    Raises MediaError for what is no picture of a known kind, is too big, is an animation or cannot be read.
    """
    kind = kind_of(data, name)
    if kind.shows == DRAWING:
        return _drawing(data, name, width_mm)
    if kind.shows != PICTURE:
        raise MediaError(f"{name} is a recording ({kind.name}), not a picture", value=name,
                         expected=f"[its words]({name}), or a picture")
    within_size(len(data), MOST_PICTURE_MB, name, "save it smaller")
    with _reading(name):
        return _photograph(data, name, kind.mime == JPEG.mime, width_mm)


def _photograph(data: bytes, name: str, was_jpeg: bool, width_mm: float | None) -> Fit:
    from PIL import ImageOps
    from PIL.Image import Resampling

    with _opened(data, name) as raw:
        _hold_size(raw, name)
        width, height = raw.size
        if raw.getexif().get(0x0112, 1) in (5, 6, 7, 8):  # Exif's orientation: lying on its side
            width, height = height, width
        shown_mm = _shown_mm(width, height, width_mm)
        most = max(1, round(shown_mm / _MM * DOTS_AN_INCH))
        share = min(1.0, most / width)
        needed = (max(1, round(raw.width * share)), max(1, round(raw.height * share)))
        raw.draft(None, needed)  # a JPEG is read no finer than that
        upright = _in_srgb(ImageOps.exif_transpose(raw))
    if upright.width > most:
        upright = upright.resize((most, max(1, round(height * share))), Resampling.LANCZOS, reducing_gap=3.0)
    mime, written = _written(upright, was_jpeg)
    return Fit(mime, written, upright.width, upright.height, shown_mm)


def _shown_mm(width: int, height: int, asked_mm: float | None) -> float:
    """How wide a picture stands on the page: as asked, else by its own size, no wider or taller than fits."""
    if asked_mm:
        return min(asked_mm, WIDEST_MM)
    return min(width / SCREEN_DOTS * _MM, WIDEST_MM, TALLEST_MM * width / height)


@contextmanager
def _reading(name: str) -> Iterator[None]:
    """What the library makes of a broken or hostile file, as one line of ours."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            yield
    except MediaError:
        raise
    except Exception as error:  # a parser that meets a broken file may raise anything
        said = " ".join(str(error).split())[:80] or type(error).__name__
        raise MediaError(f"{name} is broken: {said}", value=name, expected="a picture that opens elsewhere") from error


def _opened(data: bytes, name: str) -> Image:
    from PIL import Image, UnidentifiedImageError

    try:
        return Image.open(io.BytesIO(data), formats=("PNG", "JPEG", "WEBP"))
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise MediaError(f"{name} says that it has far more pixels than a picture has", value=name,
                         expected=f"at most {MOST_PIXELS // 1_000_000} million: save it smaller") from error
    except UnidentifiedImageError as error:
        raise MediaError(f"{name} is broken: its beginning cannot be read", value=name, expected=TAKEN) from error


def _hold_size(raw: Image, name: str) -> None:
    width, height = raw.size
    if width * height > MOST_PIXELS:
        raise MediaError(f"{name} has {width} × {height} pixels", value=width * height,
                         expected=f"at most {MOST_PIXELS // 1_000_000} million: save it smaller")
    if getattr(raw, "n_frames", 1) > 1 and raw.format != "MPO":  # an iPhone's JPEG may hold a second one
        raise MediaError(f"{name} is an animation", value=name, expected="a picture that stands still")


def _in_srgb(picture: Image) -> Image:
    """The picture in the colours of screens, grey where it is grey, with its transparency."""
    if picture.mode.startswith(("I", "F")):
        picture = _of_8_bits(picture)
    has_alpha = "transparency" in picture.info or picture.mode in ("LA", "PA", "RGBA", "La", "RGBa")
    grey = picture.mode in ("1", "L", "LA")
    profile = picture.info.get("icc_profile")
    if profile and not grey:
        picture = _by_profile(picture, profile, has_alpha)
    return picture.convert(("LA" if has_alpha else "L") if grey else "RGBA" if has_alpha else "RGB")


def _of_8_bits(picture: Image) -> Image:
    """A grey picture of 16 bits, of which paper shows 8."""
    import numpy as np
    from PIL import Image

    values = np.asarray(picture).astype(np.float64)
    return Image.fromarray((np.clip(values, 0, 65535) / 257).astype(np.uint8))


def _by_profile(picture: Image, profile: bytes, has_alpha: bool) -> Image:
    """The picture's colours by its own profile, as sRGB; as they are where the profile is of no use."""
    from PIL import ImageCms

    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        if has_alpha or picture.mode not in ("RGB", "CMYK"):
            return picture
        found: Any = ImageCms.profileToProfile(picture, source, ImageCms.createProfile("sRGB"), outputMode="RGB")
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
        return picture
    return found or picture


def _written(picture: Image, was_jpeg: bool) -> tuple[str, bytes]:
    """(media type, bytes): JPEG for what was one; else PNG, unless it is plainly a photograph."""
    bare = _bare(picture)
    as_jpeg = b"" if bare.mode in ("LA", "RGBA") else _saved(bare, "JPEG", quality=_QUALITY, progressive=True)
    if was_jpeg and as_jpeg:
        return JPEG.mime, as_jpeg
    as_png = _saved(bare, "PNG")
    if as_jpeg and len(as_png) > _PNG_AS_PHOTO_BYTES and len(as_jpeg) < _SHARE * len(as_png):
        return JPEG.mime, as_jpeg
    return PNG.mime, as_png


def _bare(picture: Image) -> Image:
    """The pixels alone, in a new picture that knows nothing of the old one."""
    from PIL import Image

    return Image.frombytes(picture.mode, picture.size, picture.tobytes())


def _saved(picture: Image, form: str, **how: Any) -> bytes:
    room = io.BytesIO()
    picture.save(room, form, optimize=True, **how)
    return room.getvalue()


def _drawing(data: bytes, name: str, width_mm: float | None) -> Fit:
    within_size(len(data), MOST_DRAWING_MB, name, "save it simpler, or as PNG")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise MediaError(f"{name} is no UTF-8 text", value=name, expected="an SVG saved as UTF-8") from error
    width, height = drawing_size(text)
    return Fit(SVG.mime, text.encode(), round(width), round(height), _shown_mm(round(width), round(height), width_mm))


def drawing_size(svg: str) -> tuple[float, float]:
    """(width, height) of an SVG in pixels of CSS, from its own words; 600 by 400 where it says nothing of use."""
    opening = re.search(r"<(?:\w{1,20}:)?svg\b[^>]{0,4000}", svg)
    said = dict(re.findall(r"""\b(width|height|viewBox)\s*=\s*["']([^"']{0,99})["']""", opening[0])) if opening else {}
    sides = [_LENGTH.fullmatch(said.get(side, "")) for side in ("width", "height")]
    found = [float(side[1]) * _PIXELS_A_UNIT[side[2]] for side in sides if side and side[1].count(".") <= 1
             and side[1].strip(".")]
    if len(found) < 2:
        box = re.findall(r"-?[\d.]{1,12}", said.get("viewBox", ""))
        found = [float(one) for one in box[2:4] if one.count(".") <= 1 and one.strip("-.")]
    usable = len(found) == 2 and all(1 <= side <= 100_000 for side in found)
    return (found[0], found[1]) if usable else (600.0, 400.0)
