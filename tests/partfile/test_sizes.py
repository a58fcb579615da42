"""Numbers that no part has: refused where they stand, before they overflow or vanish."""

from __future__ import annotations

import pytest

from mapper.job.partfile.mistakes import PartFileError
from mapper.job.partfile.read import read_text
from mapper.job.partfile.words import example


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("diameter = 28", "diameter = 1e-300"),
        ("diameter = 28", "diameter = 1e-9"),
        ("diameter = 4", "diameter = 1e300"),
        ("length = 1465", "length = 1e9"),
        ("at = [1440, 0]", "at = [1440, 1e-300]"),
        ("at = [1440, 0]", "at = [-1e200, 0]"),
    ],
)
def test_a_size_that_no_part_has_is_refused(old: str, new: str) -> None:
    text = example("tube")
    assert old in text
    with pytest.raises(PartFileError) as told:
        read_text(text.replace(old, new, 1))
    assert "1e-06 to 1e+07" in str(told.value)


@pytest.mark.parametrize("key", ["units", "shape", "side"])
@pytest.mark.parametrize("value", ["[]", "{}", "[['mm']]", "7"])
def test_a_list_in_the_place_of_a_word_is_told_of(key: str, value: str) -> None:
    lines = [
        f"{key} = {value}" if line.startswith(f"{key} ") else line
        for line in example("loft").splitlines()
    ]
    with pytest.raises(PartFileError) as told:
        read_text("\n".join(lines))
    assert key in str(told.value)
