"""Twist and place of sections: what one between leaves out lies straight between its neighbours."""

from __future__ import annotations

import math
import re

import pytest

from mapper.job.partfile.mistakes import PartFileError
from mapper.job.partfile.read import read_text
from mapper.job.partfile.sheets import plan_of

HEAD = 'units = "mm"\npart = "wing"\nshape = "loft"\n[measured]\nhow = "tape"\ntolerance = 2\n'


def text_of(root: str = "", middle: str = "", tip: str = "") -> str:
    rows = ((0, 2000, 'profile = "2412"\n' + root), (1000, 1700, middle), (5000, 1000, tip))
    return HEAD + "".join(f"[[section]]\nstation = {s}\nchord = {c}\n{x}\n" for s, c, x in rows)


def middle_of(**rows: str):  # type: ignore[no-untyped-def]
    return plan_of(read_text(text_of(**rows))).curves[1]


# The straight line between root and tip, a fifth of the way out: by similar triangles.
def test_twist_between_runs_straight_by_station() -> None:
    assert middle_of(tip="twist = -3").twist == pytest.approx(-0.6)
    assert middle_of(root="twist = 1", tip="twist = -3").twist == pytest.approx(0.2)
    assert middle_of(middle="twist = 0", tip="twist = -3").twist == 0.0
    assert middle_of().twist == 0.0


def test_dihedral_and_height_at_the_tip_alone_leave_no_kink() -> None:
    up = 1000.0 * math.tan(math.radians(5.0))
    assert middle_of(tip="dihedral = 5").height == pytest.approx(up)
    assert middle_of(tip="height = 300").height == pytest.approx(60.0)
    assert middle_of(root="height = 20", tip="height = 320").height == pytest.approx(60.0)


def test_the_line_that_the_tip_says_is_straight() -> None:
    # Sweep is of the quarter chord; leading_edge_aft of the leading edge.
    back = 1000.0 * math.tan(math.radians(10.0))
    assert middle_of(tip="sweep = 10").aft == pytest.approx(0.25 * 2000.0 + back)
    assert middle_of(tip="leading_edge_aft = 500").aft == pytest.approx(100.0 + 0.25 * 1700.0)
    assert middle_of().aft == 500.0  # a straight quarter chord


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        ({"root": "dihedral = 5"}, "section 1, dihedral: the first section cannot have it"),
        ({"root": "sweep = 5"}, "measured from the first section to each of the others"),
        ({"root": "twist = 2"}, "section 1, twist: .* the last one does not say twist"),
        ({"middle": "dihedral = 5"}, "the last one does not say height or dihedral"),
        ({"middle": "leading_edge_aft = 0"}, "does not say leading_edge_aft or sweep"),
        ({"middle": "twist = -2"}, r"Give it at the last section too \(0 where there is none\)"),
    ],
)
def test_a_line_with_one_end_is_refused(rows: dict[str, str], says: str) -> None:
    with pytest.raises(PartFileError) as caught:
        read_text(text_of(**rows))
    (mistake,) = caught.value.mistakes
    assert re.search(says, mistake.text()), mistake.text()


@pytest.mark.parametrize("row", ["twist = 0", "sweep = 0", "dihedral = 0", "height = 10"])
def test_what_turns_nothing_is_no_mistake(row: str) -> None:
    read_text(text_of(root=row))
