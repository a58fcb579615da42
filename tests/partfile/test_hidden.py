"""Signs that nobody sees, brackets without end, numbers without end: refused, and shown plainly."""

from __future__ import annotations

import pytest

from mapper.job.check import hidden, visible
from mapper.job.partfile.mistakes import PartFileError
from mapper.job.partfile.read import read_text

PLATE = """units = "mm"
part = "{name}"
shape = "plate"
form = "round"
diameter = {size}
[measured]
how = "tape"
tolerance = 2
"""


def refusal(name: str = "plate", size: str = "100") -> str:
    with pytest.raises(PartFileError) as caught:
        read_text(PLATE.format(name=name, size=size))
    return caught.value.text()


@pytest.mark.parametrize("sign", ["\u202e", "\u200b", "\u2066", "\u00ad", "\ufeff"])
def test_hidden_signs_in_names_are_refused_and_shown(sign: str) -> None:
    # General categories Cf and Cc of the Unicode Standard.
    told = refusal(f"left{sign}wing")
    assert sign not in told and "line 2, part" in told
    assert f"[U+{ord(sign):04X}]" in told and f"nobody sees, U+{ord(sign):04X}" in told


def test_hidden_signs_elsewhere_are_shown_too() -> None:
    told = refusal(size='"\u202e12"')
    assert "\u202e" not in told and "[U+202E]12" in told
    # A mistake of syntax echoes its line.
    broken = refusal(size="\u202e12")
    assert "\u202e" not in broken and "line 5" in broken


@pytest.mark.parametrize("name", ["aile à droite", "правое крыло", "می‌خواهم", "翼", "Flügel №7"])
def test_letters_of_every_script_are_names(name: str) -> None:
    assert read_text(PLATE.format(name=name, size="100")).part == name
    assert hidden(name) == "" and visible(name) == name


def test_visible_keeps_lines() -> None:
    assert visible("a\tb\nc\x1b[31m") == "a\tb\nc[U+001B][31m"


def test_what_goes_on_without_end_is_told_by_its_line() -> None:
    deep = refusal(size="[" * 5000 + "1" + "]" * 5000)
    assert "line 5, diameter: brackets stand in brackets too deep; two or three levels" in deep
    long = refusal(size="1" * 5000)
    assert "line 5, diameter: a number of 5000 digits was given;" in long
