"""Names, titles and words in any script: each keeps its letters in file names, on paper, on the page, in MIDI and XML.

The names are common first names and plain words; the file names beside them are typed, not worked out by the code.
"""

from __future__ import annotations

import unicodedata
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbook.files import FileError, folded, slug
from workbook.packs.personal import RosterError, read_roster

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
