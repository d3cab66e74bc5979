"""Pictures and recordings made fit: what Pillow and the standard library then read of them is the outside check."""

from __future__ import annotations

import io
import struct
import wave
import zlib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageCms
from support.photographs import CITY, MAKER, OWNER, box, drawing, film, mp3, photograph, pixels, tone
from support.refusals import read_or_refuse

from theorylib.errors import VampError
from workbook.media.beside import is_recording, read_beside
from workbook.media.kinds import MOST_PIXELS, MediaError, kind_of
from workbook.media.pictures import drawing_size, fitted
from workbook.media.recordings import recording
from workbook.media.shown import picture

RED = (220, 20, 20)


def opened(data: bytes) -> Image.Image:
    found = Image.open(io.BytesIO(data))
    found.load()
    return found


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_only_the_picture_is_left(form):
    came = photograph(640, 480, form=form)
    assert OWNER.encode() in came
    fit = fitted(came, "hand")
    left = opened(fit.data)
    assert dict(left.getexif()) == {}
    assert not {"exif", "icc_profile", "xmp", "Author", "Location", "comment"} & left.info.keys()
    assert not any(words.encode() in fit.data for words in (OWNER, MAKER, CITY))
    assert left.size == (fit.width, fit.height) == (640, 480)


# Where Exif 2.32 (tag 274) puts the corner at the top left of the stored rows and columns.
@pytest.mark.parametrize(("orientation", "corner"), [
    (1, "top left"), (2, "top right"), (3, "bottom right"), (4, "bottom left"), (5, "top left"), (6, "top right"),
    (7, "bottom right"), (8, "bottom left"),
])
def test_a_picture_stands_as_it_was_held(orientation, corner):
    fit = fitted(photograph(800, 400, orientation), "hand.jpg")
    seen = opened(fit.data).convert("RGB")
    assert (seen.width > seen.height) == (orientation < 5)
    assert fit.width_mm == (170 if orientation < 5 else 60)  # as wide as the text; 120 mm high and half as wide
    places = {"top left": (0.05, 0.05), "top right": (0.95, 0.05), "bottom left": (0.05, 0.95),
              "bottom right": (0.95, 0.95)}
    red = {name for name, (x, y) in places.items()
           if max(abs(one - two) for one, two in zip(
               seen.getpixel((int(x * seen.width), int(y * seen.height))), RED, strict=True)) < 30}
    assert red == {corner}


def test_a_photograph_of_twelve_million_pixels_is_no_finer_than_print():
    came = photograph(4000, 3000, quality=97)
    fit = fitted(came, "hand.jpg")
    assert len(came) > 3_000_000 > 500_000 > len(fit.data)
    assert fit.width_mm <= 170
    dots_an_inch = fit.width / (fit.width_mm / 25.4)
    assert 200 <= dots_an_inch <= 230
    assert fitted(came, "hand.jpg", 60.0).width == pytest.approx(60 / 25.4 * 220, abs=1)
    assert fit.data == fitted.__wrapped__(came, "hand.jpg").data  # the same bytes each time


def test_a_small_picture_is_not_blown_up():
    fit = fitted(photograph(192, 96), "icon.jpg")
    assert (fit.width, fit.height) == (192, 96)
    assert fit.width_mm == pytest.approx(192 / 96 * 25.4)  # CSS: 96 pixels are an inch


def test_a_drawing_in_pixels_stays_sharp_and_a_photograph_in_png_becomes_small():
    room = io.BytesIO()
    Image.fromarray(np.kron(np.eye(40, dtype=np.uint8) * 255, np.ones((10, 10), np.uint8))).save(room, "PNG")
    fit = fitted(room.getvalue(), "grid.png")
    assert fit.mime == "image/png"
    assert sorted(color for _, color in opened(fit.data).convert("L").getcolors()) == [0, 255]
    fit = fitted(photograph(700, 500, form="PNG"), "photo.png")
    assert fit.mime == "image/jpeg"


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGB", "RGBA", "CMYK", "I;16"])
def test_every_kind_of_colour(mode):
    base = pixels(120, 80)
    if mode == "I;16":
        picture_ = Image.fromarray(np.asarray(base.convert("L")).astype(np.uint16) * 257)
    elif mode in ("LA", "RGBA"):
        picture_ = base.convert("RGBA").convert(mode)
        picture_.putalpha(Image.linear_gradient("L").resize((120, 80)))
    else:
        picture_ = base.convert(mode)
    room = io.BytesIO()
    picture_.save(room, "JPEG" if mode == "CMYK" else "PNG")
    seen = opened(fitted(room.getvalue(), "x").data)
    assert seen.size == (120, 80)
    assert ("A" in seen.mode) == (mode in ("LA", "RGBA"))
    before, after = (np.asarray(one.convert("RGB")).astype(int).mean() for one in (base, seen))
    if mode in ("L", "RGB", "I;16"):
        assert abs(before - after) < 12


def test_colours_of_another_profile_are_turned_into_those_of_screens():
    """A profile whose red is sRGB's green: littleCMS makes it, so the outcome is its own."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("XYZ"))
    room = io.BytesIO()
    pixels(60, 40).save(room, "JPEG", icc_profile=profile.tobytes())
    plain, by_profile = fitted(photograph(60, 40), "a"), fitted(room.getvalue(), "b")
    assert opened(by_profile.data).info.get("icc_profile") is None
    assert plain.width == by_profile.width


def bomb(width: int, height: int) -> bytes:
    """A PNG that says it is vast, in a few bytes."""
    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + chunk(b"IDAT", zlib.compress(bytes(100_000))) + chunk(b"IEND", b"")


def animation() -> bytes:
    room = io.BytesIO()
    pixels(40, 40).save(room, "WEBP", save_all=True, append_images=[pixels(40, 40).rotate(90)], duration=100)
    return room.getvalue()


@pytest.mark.parametrize(("data", "said"), [
    (bomb(60_000, 60_000), "at most 80 million"), (bomb(9000, 9000), "9000 × 9000 pixels"),
    (bomb(2000, 2000), "broken"), (b"GIF89a....", "is a GIF"), (b"\0\0\0\x18ftypheic", "HEIC"),
    (b"II*\0", "TIFF"), (b"", "is empty"), (b"words", "no picture or recording"), (b"%PDF-1.7", "is a PDF"),
    (photograph()[:5000], "is broken"), (b"\xff\xd8\xff" + bytes(100), "is broken"), (animation(), "is an animation"),
    (tone(), "is a recording"), (b"\x89PNG\r\n\x1a\n" + bytes(50), "is broken"),
    (b"version https://git-lfs.github.com/spec/v1\n", "Git LFS"),
])
def test_what_is_no_picture_is_refused_in_one_line(data, said):
    with pytest.raises(MediaError, match=said) as refused:
        fitted(data, "hand.jpg")
    assert "\n" not in str(refused.value)
    assert len(str(refused.value)) < 300


def test_a_file_beyond_forty_megabytes_is_refused():
    with pytest.raises(MediaError, match=r"41\.0 MB; expected at most 40 MB"):
        fitted(b"\xff\xd8\xff" + bytes(41_000_000 - 3), "hand.jpg")
    assert MOST_PIXELS < Image.MAX_IMAGE_PIXELS  # so that the library's own alarm is never reached


@settings(max_examples=25, deadline=None)
@given(st.data())
def test_a_damaged_picture_is_shown_or_refused(data):
    came = bytearray(photograph(64, 48, form=data.draw(st.sampled_from(["JPEG", "PNG", "WEBP"]))))
    for _ in range(data.draw(st.integers(1, 6))):
        came[data.draw(st.integers(0, len(came) - 1))] = data.draw(st.integers(0, 255))
    shown = read_or_refuse(lambda text: fitted(bytes(came), text), "x")
    assert shown is None or shown.width_mm > 0


@pytest.mark.parametrize(("size", "pixels_of_css"), [
    ('width="80mm" height="40mm"', (302.4, 151.2)), ('width="300" height="150px"', (300, 150)), ("", (80, 40)),
    ('width="100%" height="100%"', (80, 40)), ('width="2in" height="1in"', (192, 96)),
    ('width="0" height="0"', (600, 400)),
])
def test_the_size_of_a_drawing(size, pixels_of_css):
    assert drawing_size(drawing(size=size)) == pytest.approx(pixels_of_css, abs=0.1)


# -- recordings ------------------------------------------------------------------------------------------------------
def test_a_wave_keeps_its_sound_and_nothing_else():
    came = tone()
    assert OWNER.encode() in came
    made = recording(came, "loop.wav")
    assert OWNER.encode() not in made.data
    with wave.open(io.BytesIO(came)) as before, wave.open(io.BytesIO(made.data)) as after:
        assert before.readframes(99999) == after.readframes(99999)
    assert (made.shows, made.mime, made.keeps_notes) == ("sound", "audio/wav", False)


def test_a_film_keeps_its_frames_where_they_lie_and_loses_its_notes():
    came = film()
    made = recording(came, "hand.mp4")
    assert (made.shows, made.mime) == ("film", "video/mp4")
    assert not any(words.encode() in made.data for words in (OWNER, CITY, "udta", "uuid"))
    assert len(made.data) == len(came)
    assert made.data.index(b"frames") == came.index(b"frames")


def test_an_mp3_loses_its_tags():
    made = recording(mp3(), "loop.mp3")
    assert made.data.startswith(b"\xff\xfb")
    assert made.data.count(b"sound") == 100
    assert OWNER.encode() not in made.data


@pytest.mark.parametrize(("data", "said"), [
    (b"ID3" + bytes(10_500_000), "10.5 MB; expected at most 10 MB"), (photograph(), "is a picture"),
    (box(b"ftyp", b"isom") + struct.pack(">I", 3) + b"moov", "is broken"),
])
def test_a_recording_that_cannot_go_into_the_page(data, said):
    with pytest.raises(MediaError, match=said):
        recording(data, "loop.mp3")


def test_an_ogg_says_that_it_keeps_its_notes():
    assert recording(b"OggS" + bytes(60), "a.ogg").keeps_notes
    assert kind_of(b"\x1aE\xdf\xa3\x01\0\0\0B\x82\x84webm", "a").name == "WebM"


# -- beside ----------------------------------------------------------------------------------------------------------
def test_only_what_lies_in_the_folder_is_read(tmp_path):
    folder = tmp_path / "lessons"
    (folder / "pics").mkdir(parents=True)
    (folder / "pics" / "my hand.jpg").write_bytes(b"here")
    (tmp_path / "secret.jpg").write_bytes(b"elsewhere")
    (folder / "link.jpg").symlink_to(tmp_path / "secret.jpg")
    (folder / "pics" / "up").symlink_to(tmp_path)
    assert read_beside(folder, "pics/my%20hand.jpg") == ("pics/my hand.jpg", b"here")
    assert read_beside(folder, "./pics/my hand.jpg") == ("pics/my hand.jpg", b"here")
    for address in ("../secret.jpg", str(tmp_path / "secret.jpg"), "link.jpg", "pics/up/secret.jpg", "~/secret.jpg",
                    "pics/../../secret.jpg", "%2e%2e/secret.jpg", "..\\secret.jpg", "C:\\secret.jpg"):
        with pytest.raises(MediaError, match="outside the lesson's folder"):
            read_beside(folder, address)
    with pytest.raises(MediaError, match=r"did you mean pics/my hand\.jpg"):
        read_beside(folder, "pics/my hnd.jpg")
    with pytest.raises(MediaError, match="not beside"):
        read_beside(folder, "pics")


def test_a_recording_is_told_by_its_ending():
    assert is_recording("loop.MP3")
    assert not is_recording("https://example.org/loop.mp3")
    assert not is_recording("loop.pdf")


# -- in a cell -------------------------------------------------------------------------------------------------------
def test_picture_shows_a_file_a_figure_or_bytes(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "hand.jpg").write_bytes(photograph(1500, 1000))
    data, about = picture("hand.jpg", "The thumb rests", "My hand", 100)._repr_mimebundle_()
    assert len(data["image/jpeg"]) < 600_000
    assert about["image/jpeg"]["alt"] == "The thumb rests"
    assert (about["image/jpeg"]["caption"], about["image/jpeg"]["width_mm"]) == ("My hand", 100)
    from matplotlib.figure import Figure
    figure = Figure()
    figure.add_subplot().plot([1, 3, 2])
    first = picture(figure, "A line up and down")._repr_mimebundle_()[0]["image/svg+xml"]
    assert first == picture(figure, "A line up and down")._repr_mimebundle_()[0]["image/svg+xml"]
    assert "Date" not in first
    assert picture(photograph(), "bytes").fit.mime == "image/jpeg"


@pytest.mark.parametrize(("what", "alt", "said"), [
    ("hand.jpg", " ", "without a description"), (7, "x", "int is no picture"), ("../hand.jpg", "x", "outside"),
])
def test_picture_refuses_in_our_own_words(what, alt, said):
    with pytest.raises(MediaError, match=said):
        picture(what, alt)
    with pytest.raises(VampError, match="width in mm"):
        picture(b"", "x", width_mm=900)
