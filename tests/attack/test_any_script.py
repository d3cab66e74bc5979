"""Names, titles and words in any script: each keeps its letters in file names, on paper, on the page, in MIDI and XML.

The names are common first names and plain words; the file names beside them are typed, not worked out by the code.
"""

from __future__ import annotations

import io
import json
import os
import re
import shutil
import subprocess
import sys
import unicodedata
from html import escape
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from fontTools.ttLib import TTFont
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageOps
from support.lab import ROOT
from support.short import short_lesson

from theorylib import Chart, continuous_arpeggio, finger
from workbook.cli import main
from workbook.draw.chart import chart_picture
from workbook.exchange.musicxml import musicxml_text
from workbook.files import FileError, folded, slug
from workbook.fonts import FONT_DIR, text_width, widths
from workbook.fonts.scripts import families, font_dirs, runs
from workbook.handouts.outlines import fonts, outlined
from workbook.handouts.page import lesson_page
from workbook.handouts.pdf import handout_pdf
from workbook.handouts.printing import printed, texts_of, told, unprintable
from workbook.handouts.tree import tree_of
from workbook.library.orders import orders_in_keys
from workbook.library.personal import RosterError, read_roster
from workbook.play.smf import midi_bytes

NAMES = {  # a name or title: its file name
    "Ada": "ada", "Low tide": "low-tide", "O'Neil": "o-neil", "Jean-Luc": "jean-luc", "R2 D2": "r2-d2",
    "Łukasz": "łukasz", "Żółć": "żółć", "Zoë": "zoë", "José": "josé", "Jose\u0301": "josé", "Ångström": "ångström",
    "Øystein": "øystein", "Þóra": "þóra", "Đorđe": "đorđe", "Ğ ve Ş": "ğ-ve-ş", "Straße": "straße",
    "ﬁne ﬂute": "fine-flute", "Ｆｕｌｌ": "full", "x² nº 3": "x2-no-3", "Nguyễn": "nguyễn", "ʻOkina": "ʻokina",
    "Анна": "анна", "Юрій": "юрій", "Ђорђе": "ђорђе", "Ελένη": "ελένη", "ΣΙΣΥΦΟΣ": "σισυφος", "Անի": "անի",
    "ნინო": "ნინო", "שרה": "שרה", "שָׂרָה": unicodedata.normalize("NFC", "שָׂרָה"), "فاطمة": "فاطمة",
    "علی\u200cرضا": "علیرضا",
    "नमस्ते दुनिया": "नमस्ते-दुनिया", "दीपिका": "दीपिका", "অনিতা": "অনিতা", "ਹਰਪ੍ਰੀਤ": "ਹਰਪ੍ਰੀਤ", "મીરા": "મીરા", "ଅନିତା": "ଅନିତା",
    "அனிதா": "அனிதா", "అనిత": "అనిత", "ಅನಿತಾ": "ಅನಿತಾ", "അനിത": "അനിത", "අනිතා": "අනිතා",
    "สมชาย": "สมชาย", "น้ำ": unicodedata.normalize("NFKC", "น้ำ"), "ສົມ": "ສົມ", "ချို": "ချို", "សុខ": "សុខ",
    "李": "李", "小 龙": "小-龙", "さくら": "さくら", "ヴァイオリン": "ヴァイオリン", "か\u3099": "が", "서연": "서연",
    "\u1109\u1165\u110b\u1167\u11ab": "서연", "ሰላም": "ሰላም", "ⵜⵉⵖⵔⵎⵜ": "ⵜⵉⵖⵔⵎⵜ", "ߞߊ߲ߞߊ߲": "ߞߊ߲ߞߊ߲",
    "☕️ Tea": "tea", "Bo 🎸": "bo", "👩\u200d🎤 Li": "li", "三 3 ३": "三-3-३", "a\u202eb": "ab",
    "tab\tnew\nline": "tab-new-line",
    "../..\\etc": "etc", "C:\\x": "c-x", "dots...": "dots", " -- ": None, "🎸": None, "…": None,
    "\ufe0f": None, "\u0301": None,
    "con": "con-", "CON": "con-", "Nul": "nul-", "COM1": "com1-", "com¹": "com1-", "lpt9": "lpt9-", "aux.": "aux-",
    "con 2": "con-2", "com10": "com10", "console": "console",
}
SIDE_BY_SIDE = (  # pairs that no folder can hold both of, on some system
    ("Bo", "bo"), ("李", "李"), ("José", "Jose\u0301"), ("Straße", "STRASSE"), ("Ada B", "ada-b"), ("Анна", "АННА"),
    ("ΣΙΣΥΦΟΣ", "σισυφοσ"), ("が", "か\u3099"), ("Anna", "Anna"), ("Bo 🎸", "Bo"), ("A" * 90, "A" * 91), ("ﬁ", "FI"),
    ("李" * 70, "李" * 71),
)


@pytest.mark.parametrize("name", NAMES)
def test_a_name_keeps_its_letters(name: str) -> None:
    if NAMES[name] is None:
        with pytest.raises(FileError, match="letters or digits, of any script"):
            slug(name)
    else:
        assert slug(name) == NAMES[name]


@given(st.text(max_size=120))
def test_any_title_is_a_file_name_that_every_system_takes(title: str) -> None:
    try:
        name = slug(title)
    except FileError:
        assert not any(sign.isalnum() for sign in unicodedata.normalize("NFKC", title))
        return
    assert slug(name) == name, "a name names itself"
    assert len(name) <= 81
    assert len(f".{name}.old.12345678".encode()) <= 255
    assert unicodedata.is_normalized("NFC", name)
    assert not set(name) & set('<>:"/\\|?* .')
    assert name.isprintable()
    assert name.split(".")[0].upper() not in {"CON", "PRN", "AUX", "NUL", *(f"{port}{digit}" for port in ("COM", "LPT")
                                                                            for digit in range(10))}


def test_a_letter_is_not_cut_from_its_signs() -> None:
    syllable = "\u0915\u094d\u0937\u0940"
    name = slug(syllable * 40)
    assert {unicodedata.category(sign) for sign in syllable} == {"Lo", "Mn", "Mc"}
    assert len(name) <= 80
    assert (syllable * 40)[len(name):][0] in "\u0915\u0937"
    assert len(slug("a" + "\u0301" * 300).encode()) <= 200


@pytest.mark.parametrize(("one", "two"), SIDE_BY_SIDE)
def test_two_students_never_share_a_folder(one: str, two: str, tmp_path: Path) -> None:
    roster = tmp_path / "students.csv"
    roster.write_text(f"name\n{one}\n{two}\n", encoding="utf-8")
    with pytest.raises(RosterError, match=r"row 3.*names that differ|would share a folder.*row 3"):
        read_roster(roster)


def test_a_roster_of_many_scripts_is_read(tmp_path: Path) -> None:
    names = [name for name, expected in NAMES.items() if expected and name.strip() == name and "\n" not in name]
    kept = list({folded(NAMES[name] or ""): name for name in names}.values())
    roster = tmp_path / "students.csv"
    roster.write_text("name\n" + "\n".join(kept) + "\n", encoding="utf-8")
    assert [student.name for student in read_roster(roster)] == kept
    assert len(kept) > 60


@pytest.mark.parametrize("name", ["🎸", "…", "\u200b"])
def test_a_student_without_letters_is_refused_by_row(name: str, tmp_path: Path) -> None:
    roster = tmp_path / "students.csv"
    roster.write_text(f"name\nAda\n{name}\n", encoding="utf-8")
    with pytest.raises(FileError, match=r"row 3.*letters or digits|no file name.*row 3"):
        read_roster(roster)


# -- on paper ---------------------------------------------------------------------------------------------------------
WORDS = ("Łukasz", "Nguyễn", "Анна", "Ελένη", "Անի", "ნინო", "שרה", "فاطمة", "میلاد", "दीपिका", "आर्या", "অনিতা",
         "ਹਰਪ੍ਰੀਤ", "મીરા", "ଅନିତା", "அனிதா", "అనిత", "ಅನಿತಾ", "അനിത", "අනිතා", "สมชาย", "ສົມ", "ချို", "សុខ",
         "李小龙", "さくら", "ヴァイオリン", "서연", "ሰላም", "ⵜⵉⵖⵔⵎⵜ", "🎸", "👩\u200d🎤", "☕️", "👍🏽", "🇩🇪", "♯♭")
ONLY_LETTERS = {"שרה", "ສົມ", "فاطمة", "میلاد", "ଅନିତା", "අනිතා"}
NOWHERE = {"𒀀": "U+12000 CUNEIFORM SIGN A", "\ue000": "U+E000 without a name", "\x07": "U+0007 without a name",
           "\0": "U+0000 without a name", "\ufeff": "U+FEFF ZERO WIDTH NO-BREAK SPACE"}


def text_cell(*paragraphs: str) -> dict[str, Any]:
    return {"cell_type": "markdown", "id": "words", "metadata": {}, "source": "\n\n".join(paragraphs)}


def lesson(*cells: dict[str, Any], title: str = "Words") -> dict[str, Any]:
    return {"cells": list(cells), "metadata": {"vampbook": {"title": title}}, "nbformat": 4, "nbformat_minor": 5}


def everywhere(word: str) -> dict[str, Any]:
    """A cell with a word in every place that a cell's words can stand in."""
    return text_cell(f"## {word}", word, f"**{word}** and ***{word}***", f"*{word}*", f"`{word}`",
                     f"- {word}\n- [ ] {word}",
                     f"| {word} |\n|---|\n| **{word}** |", f"> {word}", f"```\n{word}\n```", f"[{word}](https://x.test)")


def on_paper(notebook: dict[str, Any], folder: Path) -> str:
    """The text of the handout as another program reads it."""
    if shutil.which("pdftotext") is None:
        pytest.skip("no pdftotext on this machine")
    path = folder / "handout.pdf"
    path.write_bytes(handout_pdf(notebook))
    read = subprocess.run(["pdftotext", "-raw", str(path), "-"], capture_output=True, check=True)
    return unicodedata.normalize("NFKC", read.stdout.decode())


def test_words_of_every_script_print(tmp_path: Path) -> None:
    text = on_paper(lesson(*map(everywhere, WORDS), title=" ".join(WORDS)), tmp_path)
    assert "[U+" not in text
    for word in WORDS:
        plain = unicodedata.normalize("NFKC", word).replace("\ufe0f", "")
        if word in ONLY_LETTERS:  # which other programs read in another order
            assert all(text.count(sign) >= 10 for sign in plain), word
        else:
            assert text.replace("\ufe0f", "").count(plain) >= 10, word


def test_the_title_of_a_handout_keeps_its_script(tmp_path: Path) -> None:
    if shutil.which("pdfinfo") is None:
        pytest.skip("no pdfinfo on this machine")
    path = tmp_path / "handout.pdf"
    path.write_bytes(handout_pdf(lesson(text_cell("# One"), title="Улица 李 दीपिका 🎸")))
    read = subprocess.run(["pdfinfo", "-enc", "UTF-8", str(path)], capture_output=True, check=True).stdout.decode()
    assert re.search(r"Title: +Улица 李 दीपिका 🎸\n", read)


@pytest.mark.parametrize("sign", NOWHERE)
def test_a_sign_that_no_font_has_stands_as_its_code_and_its_cell_is_named(sign: str, tmp_path: Path) -> None:
    notebook = lesson(text_cell("# Words"), everywhere(f"a{sign}b"))
    shown = f"a[U+{ord(sign):04X}]b"
    assert on_paper(notebook, tmp_path).count(shown) >= 10
    assert unprintable(tree_of(notebook)) == {2: (sign,)}
    assert told([sign]) == f"no font here has {NOWHERE[sign]}: the handout shows [U+{ord(sign):04X}] in its place"
    assert sign not in lesson_page(notebook).split("</main>")[1]


@given(st.text(max_size=60))
@settings(max_examples=300 if os.environ.get("VAMPBOOK_EXPLORE") else 30)
def test_no_text_at_all_refuses_a_handout(words: str) -> None:
    """Whatever it is, in bold, in italics and in a picture, PDF/UA holds: Typst refuses it otherwise."""
    shown = escape("".join(sign for sign in words if sign.isprintable()))
    svg = (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 400 40" font-family="Vampbook Sans"><text x="9" '
           f'y="20" font-size="14" font-weight="bold">{shown}</text></svg>')
    picture = {"output_type": "display_data", "data": {"image/svg+xml": svg},
               "metadata": {"image/svg+xml": {"alt": "words", "caption": words}}}
    cell = {"cell_type": "code", "id": "p", "metadata": {}, "source": "p", "execution_count": 1, "outputs": [picture]}
    assert handout_pdf(lesson(text_cell(words, f"**{words}**", f"*{words}*"), cell, title="Words")).startswith(b"%PDF")


@pytest.mark.parametrize("word", WORDS)
def test_a_section_of_any_script_is_printed_in_the_chart(word: str) -> None:
    picture = chart_picture(f"title: {word}\n[{word}] | Am7 | D7 |")
    made = outlined(picture.svg, "en")
    own = word in ("Łukasz", "Nguyễn", "Анна", "Ελένη", "♯♭")
    assert made.count(f">{word}</text>") == (2 if own else 0)
    assert len(re.findall(r"<g [^>]*><g transform", made)) == (0 if own else 2)
    bundle = picture._repr_mimebundle_()
    cell = {"cell_type": "code", "id": "c", "metadata": {}, "source": "chart", "execution_count": 1,
            "outputs": [{"output_type": "display_data", "data": bundle[0], "metadata": bundle[1]}]}
    assert handout_pdf(lesson(text_cell("# One"), cell)).startswith(b"%PDF")


def test_an_outline_stands_where_its_text_stood() -> None:
    """A word of which our own face has every sign is set as text and as outline: the same width and place of ink."""
    for anchor in ("start", "middle", "end"):
        text = f'<text x="200" y="60" font-size="40" text-anchor="{anchor}" fill="#ff0000">{{}}</text>'
        svg = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 400 100" font-family="Vampbook Sans">{text}</svg>'
        boxes = [ink(outlined(svg.format(words), "en")) for words in ("HHHH", "HHHH\u05d0")]
        (left, top, right, bottom), (left_with, top_with, right_with, bottom_with) = boxes
        extra = (right_with - left_with) - (right - left)  # the letter more
        share = {"start": 0, "middle": 0.5, "end": 1}[anchor]
        assert extra > 20
        assert abs(left - left_with - share * extra) < 4, anchor
        assert abs(top - top_with) < 2
        assert abs(bottom - bottom_with) < 2


def ink(svg: str) -> tuple[int, int, int, int]:
    """The box of what is drawn, in units of a drawing 400 wide."""
    import typst

    src = '#set page(width: 400pt, height: 100pt, margin: 0pt)\n#image(bytes(sys.inputs.svg), width: 400pt)'
    png = typst.compile(src.encode(), format="png", ppi=72.0, font_paths=fonts(True), sys_inputs={"svg": svg})
    return ImageOps.invert(Image.open(io.BytesIO(png)).convert("L")).point(lambda grey: 255 * (grey > 60)).getbbox()


def test_what_our_own_face_has_is_left_as_it_is() -> None:
    """So that the handouts of lessons in usual words stay the same bytes."""
    tree = tree_of(ROOT / "lessons" / "slack-water.ipynb")
    assert [printed(block, "en") for block in tree["blocks"]] == tree["blocks"]
    assert families(texts_of(tree["blocks"])) == ("Vampbook Sans",)
    faces = []
    for path in sorted(FONT_DIR.glob("*.ttf")):
        with TTFont(path) as face:
            faces.append(set(map(chr, face.getBestCmap())))
    assert len(faces) == 6
    assert all(set(table) <= face for face in faces for table in widths().values())


def test_han_signs_take_the_forms_of_the_language() -> None:
    assert families(["直"], "zh") == families(["直"]) == ("Vampbook Sans", "Noto Sans CJK SC")
    for language, place in {"ja": "JP", "ko-KR": "KR", "zh-TW": "TC", "zh-HK": "HK"}.items():
        assert families(["直"], language)[1] == f"Noto Sans CJK {place}"


def test_a_mark_stays_with_its_letter_where_one_face_has_both() -> None:
    hindi = "Noto Sans Devanagari"
    assert [(run.text, run.family) for run in runs("a दी")] == [("a ", "Vampbook Sans"), ("दी", hindi)]
    assert [(run.text, run.family) for run in runs("a\u0940")] == [("a", "Vampbook Sans"), ("\u0940", hindi)]


def test_room_for_signs_beyond_the_table_is_as_their_fonts_say() -> None:
    """Chart and score leave that much room for a label; emoji differ from one system to the next, by a fifth or so."""
    places = {"李": ("CJK", 0), "さ": ("CJK", 0), "서": ("CJK", 0), "🎸": ("NotoEmoji", -1)}
    for sign, (stem, number) in places.items():
        path = next(path for folder in (FONT_DIR, *font_dirs()) for path in folder.iterdir() if stem in path.name)
        with TTFont(path, fontNumber=number) as face:
            advance = face["hmtx"][face.getBestCmap()[ord(sign)]][0] / face["head"].unitsPerEm
        assert text_width(sign, 1) == pytest.approx(advance, rel=0.15), sign
    assert text_width("e\u0301\u200d", 10) == text_width("e", 10)


def test_words_from_the_right_begin_at_the_right() -> None:
    notebook = lesson(text_cell("# فاطمة Am7", "(שרה) plays", "Words فاطمة", "- فاطمة\n- words"))
    page = lesson_page(notebook)
    for piece in ('<h1 dir="rtl">فاطمة', '<p dir="rtl">(שרה)', "<p>Words", '<li dir="rtl">فاطمة', "<li>words"):
        assert piece in page, piece


def test_titles_in_midi_and_musicxml() -> None:
    import mido
    import music21

    line = finger(continuous_arpeggio(Chart.parse("[दीपिका 李] | Am7 | D7 |")))
    for title in ("Улица 李 🎸", "Łódź فاطمة"):
        read = mido.MidiFile(file=io.BytesIO(midi_bytes([line], title=title)), charset="utf-8")
        texts = {getattr(event, "name", "") or getattr(event, "text", "") for track in read.tracks for event in track}
        assert {title, "दीपिका 李"} <= texts
        file = music21.midi.MidiFile()
        file.readstr(midi_bytes([line], title=title))
        stream = music21.midi.translate.midiFileToStream(file)
        assert len(stream.flatten().notes) >= len(line.notes)
        score = music21.converter.parseData(musicxml_text([line], title=title), format="musicxml")
        assert title in (score.metadata.title, score.metadata.movementName)
        assert any("दीपिका 李" in str(mark.content) for mark in score.recurse().getElementsByClass("RehearsalMark"))


def test_packs_for_students_of_many_scripts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("VAMPBOOK_CACHE", str(tmp_path / "cache"))
    roster, out = tmp_path / "students.csv", tmp_path / "out"
    roster.write_text("name\nАнна 李\nŁukasz 𒀀\n", encoding="utf-8")
    path = tmp_path / "slack-water.ipynb"
    path.write_text(short_lesson(), encoding="utf-8")
    done = CliRunner().invoke(main, ["personal", str(path), "--roster", str(roster), "--out", str(out)])
    assert done.exit_code == 0, done.output
    assert {path.name for path in out.iterdir()} == {"анна-李", "łukasz-𒀀"}
    assert "slack-water.ipynb: no font here has U+12000 CUNEIFORM SIGN A" in done.output
    assert "<strong>Анна 李</strong>" in (out / "анна-李" / "slack-water" / "lesson.html").read_text(encoding="utf-8")
    again = CliRunner().invoke(main, ["personal", str(path), "--roster", str(roster), "--out", str(out)])
    assert again.output.count("unchanged") == 2


@pytest.mark.parametrize("stem", ["a" * 80, "李" * 70, "low-tide"])
def test_a_long_name_leaves_room_for_its_key(stem: str, tmp_path: Path) -> None:
    """Else all the keys of a lesson would want one folder, and all be refused."""
    orders = orders_in_keys([tmp_path / f"{stem}.ipynb"], tmp_path, ["F", "F#", "Bb"], "drop D")
    names = [order.folder.name for order in orders]
    assert [name.rpartition("-in-")[2] for name in names] == [
        "f-tuned-drop-d", "f-sharp-tuned-drop-d", "b-flat-tuned-drop-d"]
    assert all(name.startswith(stem[:50]) and len(name.encode()) <= 200 for name in names)


def test_check_notes_what_no_font_has_and_passes(tmp_path: Path) -> None:
    notebook = json.loads(short_lesson())
    notebook["cells"].insert(3, text_cell("A word: 𒀀."))
    path = tmp_path / "lesson.ipynb"
    path.write_text(json.dumps(notebook), encoding="utf-8")
    done = CliRunner().invoke(main, ["check", "--no-run", str(path)])
    assert done.exit_code == 0, done.output
    assert re.search(r"note: .*lesson\.ipynb: cell 4: no font here has U\+12000", done.output)


def test_without_the_fallback_faces_signs_stand_as_codes(tmp_path: Path) -> None:
    """As where their packages could not be installed."""
    (tmp_path / "lesson.json").write_text(json.dumps(lesson(everywhere("李 Анна"))), encoding="utf-8")
    code = f"""import json, sys
from pathlib import Path
from workbook.fonts import scripts
scripts._PACKAGES = ("no_fonts_here",)
from workbook.handouts.pdf import handout_pdf
notebook = json.loads(Path({str(tmp_path / "lesson.json")!r}).read_text(encoding="utf-8"))
Path({str(tmp_path / "one.pdf")!r}).write_bytes(handout_pdf(notebook))"""
    subprocess.run([sys.executable, "-c", code], check=True, cwd=ROOT)
    if shutil.which("pdftotext") is None:
        pytest.skip("no pdftotext on this machine")
    read = subprocess.run(["pdftotext", "-raw", str(tmp_path / "one.pdf"), "-"], capture_output=True, check=True)
    assert read.stdout.decode().count("[U+674E] Анна") >= 10
