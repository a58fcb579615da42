"""`mapper list bays` and what `mapper show` says of bays, both ways."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest

from tests.cli.typed import fine

SAID = '[measured]\nhow = "tape"\ntolerance = 2\n'
TAIL = f"""units = "mm"
part = "tailplane"
shape = "loft"
{SAID}
[[section]]
station = 0
chord = 800
profile = "0012"
[[section]]
station = 1500
chord = 800
[[rib]]
name = "rib 1"
station = 500
[[rib]]
name = "rib 2"
station = 1000
[[spar]]
name = "spar"
chord = 30
"""
CLEAT = f"""units = "mm"
part = "cleat"
shape = "plate"
form = "rectangle"
length = 60
width = 40
{SAID}
[attachment]
to = "tailplane"
"""


@pytest.fixture
def tail(shop: Path, tmp_path: Path) -> Path:
    """The shop with a tailplane, a cleat inside it, one off it, and one of a part not there."""
    for name, text in (
        ("tail", TAIL),
        ("cleat", CLEAT + "origin = [400, 700, 0]\n"),
        ("off", CLEAT + "origin = [400, 700, 300]\n"),
        ("lost", CLEAT.replace("tailplane", "keel")),
    ):
        file = tmp_path / f"{name}.toml"
        file.write_text(text)
        fine(f"add part {file} --code {name.upper()} --name '{name}' --assembly 'right wing'")
    return shop


def shown(which: str) -> str:
    return " ".join(fine(f"show {which}").split())


def test_where_a_part_lies_and_what_lies_in_it(tail: Path) -> None:
    assert "lies in bay rib 1 to rib 2, spar to trailing edge of tailplane" in shown("CLEAT")
    assert "lies outside tailplane" in shown("OFF")
    assert "attached to keel, of which this job has no shape" in shown("LOST")
    assert "inside rib 1 to rib 2, spar to trailing edge: cleat" in shown("TAIL")
    for which in ("RW-01", "PT-1"):
        assert " lies " not in shown(which) and " inside " not in shown(which)


def test_the_list_of_bays(tail: Path) -> None:
    every = list(csv.DictReader(io.StringIO(fine("list bays --csv"))))
    rows = [r for r in every if r["part"] == "TAIL"]
    assert {r["part"] for r in every} == {"TAIL", "RW-01"} and len(rows) == 6
    (bay,) = (r for r in rows if r["inside"])
    assert bay["bay"] == "rib 1 to rib 2, spar to trailing edge" and bay["inside"] == "cleat"
    assert bay["bounded by"] == "rib 1, rib 2, spar"
    # Bays of a wing of one section are alike between ribs 500 mm apart, and all of them together
    # are the skin of the part.
    sizes = {r["bay"]: float(r["skin m²"]) for r in rows}
    assert sizes[bay["bay"]] == pytest.approx(sizes["root to rib 1, spar to trailing edge"])
    listed = {r["code"]: r for r in csv.DictReader(io.StringIO(fine("list parts --csv")))}
    assert sum(sizes.values()) == pytest.approx(float(listed["TAIL"]["area m²"]), rel=1e-5)
    (row,) = csv.DictReader(io.StringIO(fine("list bays --part CLEAT --csv")))
    assert (row["bay"], row["inside"]) == ("whole part", "")
    assert "rib 2 to tip" in fine("list bays --part TAIL")
