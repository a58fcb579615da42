"""Characters no packaged font has: visible, listed, and never a reason to go without a report."""

from __future__ import annotations

import subprocess
import sys
import unicodedata
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.ft2font import FT2Font

from mapper.report.fonts import characters, copy_fonts, font_files, printable
from mapper.report.letters import Letters


@pytest.mark.parametrize(
    ("given_text", "shown"),
    [
        ("", ""),
        ("Rivet 12, µm m² ± ½ °C – “old”", "Rivet 12, µm m² ± ½ °C – “old”"),
        ("a\U0001f600b", "a[U+1F600]b"),
        ("bell\x07", "bell[U+0007]"),
        ("\u202eevil", "[U+202E]evil"),
        ("one\r\ntwo\tthree", "one\ntwo three"),
        ("e\u0301", "é"),
        ("\ud800", "[U+D800]"),
        ("\ue000\ufeff", "[U+E000][U+FEFF]"),
        ("שלום", "שלום"),
    ],
)
def test_what_is_shown(given_text: str, shown: str) -> None:
    assert Letters()(given_text) == shown


def test_replaced_characters_are_listed_with_their_names_and_how_often() -> None:
    letters = Letters()
    letters("\U0001f600 and \U0001f600")
    letters("\x07")
    assert letters.rows() == (("U+1F600", "grinning face", "2"), ("U+0007", "no name", "1"))


@given(st.text())
def test_what_comes_out_is_printable_and_stays_when_done_again(text: str) -> None:
    once = Letters()(text)
    assert set(once) <= printable() | {"\n"}
    assert Letters()(once) == once
    assert not any(unicodedata.category(c) in ("Cc", "Cf", "Cs", "Co") for c in once if c != "\n")


def test_only_the_packaged_family_is_handed_on(tmp_path) -> None:
    names = {p.name for p in copy_fonts(tmp_path / "fonts").iterdir()}
    assert len(names) == 4
    assert all(n.startswith("DejaVuSans") for n in names)


@pytest.mark.parametrize("font", font_files(), ids=lambda path: path.stem)
def test_the_letters_of_a_font_are_those_another_reader_finds(font: Path) -> None:
    """Judge: FreeType, through matplotlib."""
    assert characters(font.read_bytes()) == set(FT2Font(str(font)).get_charmap())


def test_a_file_without_letters_has_none() -> None:
    assert characters(b"\0\1\0\0" + bytes(8)) == frozenset()


def test_a_report_of_things_drawn_before_loads_no_drawing_tables_or_migrations() -> None:
    """What takes a second and a half to load, and is not asked for when nothing is new."""
    heavy = ("matplotlib", "pandas", "scipy.special", "scipy.interpolate", "alembic", "vtkmodules")
    code = (
        "import sys, mapper.report.build, mapper.store.shop;"
        f"print([name for name in {heavy} if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
