"""`mapper distance`, run as a person runs it."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from typer.testing import CliRunner

from mapper.cli import distance as _command  # noqa: F401  (registers the command)
from mapper.cli.main import app
from mapper.errors import MapperError

WING = """\
part = "test wing"
units = "mm"
shape = "loft"
[measured]
how = "tape"
tolerance = 2
[[section]]
station = 0
chord = 2000
profile = "0012"
[[section]]
station = 5000
chord = 1000
[[rib]]
name = "rib 1"
station = 1000
[[rib]]
name = "rib 2"
station = 2000
[[spar]]
name = "rear spar"
chord = 65
[[opening]]
name = "filler"
form = "round"
station = 1500
chord = 50
side = "upper"
diameter = 120
"""
TUBE = """\
part = "push-pull tube"
units = "mm"
shape = "tube"
diameter = 40
length = 1000
[measured]
how = "tape"
tolerance = 1
"""


@pytest.fixture
def wing(tmp_path):
    path = tmp_path / "wing.toml"
    path.write_text(WING)
    return str(path)


@pytest.fixture
def tube(tmp_path):
    path = tmp_path / "tube.toml"
    path.write_text(TUBE)
    return str(path)


def run(*words: str) -> str:
    done = CliRunner().invoke(app, ["distance", *words])
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        raise done.exception
    assert done.exit_code == 0, done.output
    return done.output


def record(*words: str):
    return json.loads(run(*words, "--json"))


def test_round_a_tube(tube):
    """Closed form: sqrt((R theta)2 + z2), the shorter way over the closing seam; the straight line
    through space is the chord's."""
    half = 20 * math.pi
    found = record(tube, "--from", f"flat 100 {half - 5}", "--to", f"flat 400 {-half + 10}")
    assert found["distance_mm"] == pytest.approx(math.hypot(300, 15), abs=1e-6)
    chord = 40 * math.sin(15 / 40)
    assert found["straight_mm"] == pytest.approx(math.hypot(300, chord), abs=1e-6)
    words = run(tube, "--from", f"flat 100 {half - 5}", "--to", f"flat 400 {-half + 10}")
    assert "300.4 mm ± 0.5 %" in words


def test_within_a_place_and_a_line_of_a_tube(tube):
    """Closed form: pi r2; and of the tube's two ends a strip each."""
    found = record(tube, "--from", "flat 500 60", "--within", "30")
    assert found["area_mm2"] == pytest.approx(math.pi * 900, rel=1e-6)
    found = record(tube, "--to-line", "edge", "--within", "25")
    assert found["area_mm2"] == pytest.approx(2 * 25 * 40 * math.pi, rel=3e-4)
    words = run(tube, "--from", "flat 20 0", "--within", "1 in", "--units", "inch")
    assert "Within 1.00 in" in words or "1 in" in words


def test_places_and_lines_of_a_wing(wing):
    """On an untwisted wing the flat map is exact; ribs lie in planes, so a place on a rib is 0 from
    it, and the way from the upper to the lower side goes round the nose."""
    upper = "3000 90 upper"
    found = record(wing, "--from", upper, "--to", "3000 90 lower")
    flat = np.array([found["from"]["flat_mm"], found["to"]["flat_mm"]])
    assert found["distance_mm"] == pytest.approx(np.hypot(*(flat[0] - flat[1])), rel=1e-5)
    assert found["straight_mm"] < 0.05 * found["distance_mm"]
    assert record(wing, "--from", "1000 30 lower", "--to-line", "rib 1")["distance_mm"] < 1e-3
    assert record(wing, "--from", "2500 65 upper", "--to-line", "REAR SPAR")["distance_mm"] < 1e-3
    lines = record(wing, "--from", "1200 90", "--side", "upper")["lines"]
    far = [row["distance_mm"] for row in lines]
    assert far == sorted(far)
    names = {row["name"] for row in lines}
    assert names == {
        "rib 1", "rib 2", "rear spar", "filler", "root", "tip", "upper trailing edge",
        "lower trailing edge",
    }  # fmt: skip
    words = run(wing, "--from", "1200 90 upper")
    assert words.index("upper trailing edge") < words.index("rear spar")


def test_an_opening_is_gone_round(wing):
    near = record(wing, "--from", "1500 25 upper", "--to-line", "filler")["distance_mm"]
    found = record(wing, "--from", "1400 50 upper", "--to", "1600 50 upper")
    here, there = np.array(found["from"]["flat_mm"]), np.array(found["to"]["flat_mm"])
    assert near > 0
    straight = float(np.hypot(*(here - there)))
    assert straight + 1.0 < found["distance_mm"] < 1.5 * straight


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "--from"),
        (("--from", "1200 25"), "side"),
        (("--from", "1200"), "Allowed: station"),
        (("--from", "9000 25 upper"), "no place"),
        (("--from", "1200 125 upper"), "0 to 100"),
        (("--from", "flat 1 99999"), "off the skin"),
        (("--from", "flat 1"), "two lengths"),
        (("--from", "1200 25 upper", "--to-line", "rib 9"), "rib 1; rib 2"),
        (("--from", "1200 25 upper", "--to", "1 1 upper", "--to-line", "tip"), "One of them"),
        (("--from", "1200 25 upper", "--to-line", "tip", "--within", "9"), "one place"),
        (("--within", "9"), "one place"),
        (("--from", "1200 25 upper", "--within", "-9"), "above 0"),
        (("--from", "1200 25 upper", "--side", "left"), "upper or lower"),
        (("--from", "1200 25 upper", "--skin", "keel"), "No skin 'keel'"),
    ],
)
def test_what_is_wrong_is_said(wing, words, said):
    with pytest.raises(MapperError, match=said):
        run(wing, *words)


def test_help_tells_what_a_place_is():
    words = run("--help")
    assert "1200 25 upper" in words and "--to-line" in words
