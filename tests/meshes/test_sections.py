"""Sections against published ordinates, published coordinates and lengths by quadrature."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import aerosandbox
import numpy as np
import pytest
from numpy.polynomial.legendre import leggauss
from scipy.optimize import brentq

from meshes.coordfile import read_coordinates
from meshes.errors import ShapeError
from meshes.sections import Coordinates, Naca4, Naca5, Section

# Section coordinates of the UIUC collection as shipped in the package aerosandbox.
SHIPPED = Path(aerosandbox.__file__).parent / "geometry" / "airfoil" / "airfoil_database"


def length(section: Section, low: float, high: float) -> float:
    """Length along the section in chords, Gauss points in 40 pieces between kinks."""
    x, w = leggauss(12)
    breaks = np.unique([low, high, *[k for k in section.kinks if low < k < high]])
    edges = np.unique(np.concatenate([np.linspace(a, b, 41) for a, b in pairwise(breaks)]))
    half = 0.5 * np.diff(edges)[:, None]
    at = 0.5 * (edges[:-1] + edges[1:])[:, None] + half * x
    return float(np.sum(half * w * np.linalg.norm(section.d(at), axis=-1)))


def height_at(section: Section, x: float, sign: int) -> float:
    """y in % chord where the upper (1) or lower (-1) side is at x % chord."""
    q = brentq(lambda q: section.at(sign * q)[0] - x / 100, 0.02, 1.0, xtol=1e-15)
    return 100.0 * float(section.at(sign * q)[1])


@pytest.mark.parametrize(
    ("digits", "sign", "x", "y"),
    [
        # Four-digit equation, NACA TR 460; ordinates in % chord as in Abbott & von Doenhoff,
        # "Theory of Wing Sections" (open trailing edge), recomputed; good to .01 % chord.
        ("2412", 1, 1.25, 2.1600),
        ("2412", 1, 10.0, 5.6290),
        ("2412", 1, 30.0, 7.8785),
        ("2412", 1, 60.0, 6.3506),
        ("2412", 1, 90.0, 2.0711),
        ("2412", -1, 10.0, -3.7608),
        ("2412", -1, 20.0, -4.2278),
        ("2412", -1, 40.0, -3.8030),
        ("0012", 1, 1.25, 1.894),
        ("0012", 1, 10.0, 4.683),
        ("0012", 1, 30.0, 6.002),
        ("0012", 1, 60.0, 4.563),
        ("0012", 1, 90.0, 1.448),
    ],
)
def test_four_digit_ordinates(digits: str, sign: int, x: float, y: float) -> None:
    assert height_at(Naca4(digits, closed=False), x, sign) == pytest.approx(y, abs=6e-4)


def test_five_digit_points() -> None:
    # NACA 23012 points (x, y) / chord of the UIUC coordinates shipped with aerosandbox; the file
    # rounds to 1e-5.
    section = Naca5("23012", closed=False)
    curve = section.at(np.linspace(-1.0, 1.0, 200_001))
    for point in ((0.25131, 0.07597), (0.34418, -0.04510)):
        assert np.hypot(*(curve - point).T).min() < 1.5e-5


def test_five_digit_section_lies_on_all_shipped_points() -> None:
    # The whole shipped file: its last points are rounded and thickened to 1e-4 of the chord.
    given = read_coordinates((SHIPPED / "naca23012.dat").read_text()).xy
    curve = Naca5("23012", closed=False).at(np.linspace(-1.0, 1.0, 20_001))
    assert max(np.hypot(*(curve - p).T).min() for p in given) < 1.1e-4


@pytest.mark.parametrize(
    ("digits", "closed", "low", "high", "chords"),
    [
        # Skin length / chord by quadrature of the four-digit equation, good to 1e-5; those of the
        # 2412 belong to the open trailing edge.
        ("0012", False, -1.0, 1.0, 2.03927),
        ("0012", True, -1.0, 1.0, 2.03955),
        ("2412", False, 0.0, 1.0, 1.02803),
        ("2412", False, -1.0, 0.0, 1.01337),
    ],
)
def test_skin_length(digits: str, closed: bool, low: float, high: float, chords: float) -> None:
    assert length(Naca4(digits, closed), low, high) == pytest.approx(chords, abs=6e-6)


def test_open_base_of_0012() -> None:
    # The base adds .00252 of the chord (quadrature, same source).
    ends = Naca4("0012", closed=False).at([-1.0, 1.0])
    assert np.hypot(*(ends[1] - ends[0])) == pytest.approx(0.00252, abs=1e-8)
    assert (
        Naca4("0012").closed
        and np.abs(np.diff(Naca4("0012").at([-1.0, 1.0]), axis=0)).max() < 1e-12
    )


@pytest.mark.parametrize(
    "section", [Naca4("2412"), Naca4("0012", False), Naca5("23012"), Naca5("23112")]
)
def test_derivative_is_exact(section: Section) -> None:
    # Central differences fall with the square of the step; at 1e-6 rounding is 1e-10.
    s = np.linspace(-0.97, 0.97, 60)
    difference = (section.at(s + 1e-6) - section.at(s - 1e-6)) / 2e-6
    assert np.abs(difference - section.d(s)).max() < 5e-10


def test_even_steps_of_s_converge_with_their_square() -> None:
    # xi = s squared puts points at the nose; even steps of xi reach a rate of 1.4 only.
    section, exact = Naca4("0012"), 2.0395489311560
    miss = []
    for count in (50, 100, 200, 400):
        points = section.at(np.linspace(-1.0, 1.0, 2 * count + 1))
        miss.append(exact - np.hypot(*np.diff(points, axis=0).T).sum())
    rates = np.log2(np.array(miss[:-1]) / miss[1:])
    assert np.all((rates > 1.9) & (rates < 2.1))


def test_clark_y_file() -> None:
    # Polyline perimeter / chord 2.04402 of clarky as shipped in aerosandbox, without the base.
    section = read_coordinates((SHIPPED / "clarky.dat").read_text())
    assert section.name == "CLARK Y AIRFOIL"
    polyline = float(np.hypot(*np.diff(section.xy, axis=0).T).sum())
    assert polyline == pytest.approx(2.04402, abs=5e-6)
    # The curve through the points is a little longer than the polyline and close to it.
    assert polyline < length(section, -1.0, 1.0) < polyline + 2e-4
    # It passes through every point.
    curve = section.at(section.breaks)
    assert np.abs(curve[::-1] - (section.xy - [section.xy[:, 0].min(), 0.0])).max() < 1e-12
    assert not section.closed


def test_spline_through_exact_points_converges() -> None:
    exact = Naca4("0012")
    miss = []
    for count in (10, 20, 40, 80):
        section = Coordinates(exact.at(np.linspace(1.0, -1.0, 2 * count + 1)))
        miss.append(abs(length(section, -1.0, 1.0) - length(exact, -1.0, 1.0)))
    assert np.all(np.log2(np.array(miss[:-1]) / miss[1:]) > 3.8)
    assert miss[-1] < 1e-8


LOOP = "title\n" + "\n".join(
    f"{x:.6f} {y:.6f}" for x, y in Naca4("0012").at(np.linspace(1.0, -1.0, 21))
)


def test_both_forms_and_both_directions_read_alike() -> None:
    wanted = read_coordinates(LOOP).xy
    rows = LOOP.splitlines()[1:]
    backward = "\n".join(["title", *rows[::-1]])
    blocks = "\n".join(["title", "11. 11.", "", *rows[10::-1], "", *rows[10:]])
    bare = "\n".join(["title", *rows[10::-1], *rows[10:]])
    for text in (backward, blocks, bare, LOOP.replace(" ", ",\t")):
        read = read_coordinates(text)
        assert np.array_equal(read.xy, wanted) and read.name == "title"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "0 points were read"),
        ("name\n1 0\n0.5 x\n", "line 3"),
        ("name\n1 0\n0.5 1 2\n", "line 3"),
        (LOOP + "\n0.1 nan", "finite"),
        ("name\n12 11\n" + "\n".join(LOOP.splitlines()[1:]), "12 and 11 points are announced, 21"),
    ],
)
def test_bad_files_are_named_by_line(text: str, words: str) -> None:
    with pytest.raises(ShapeError) as caught:
        read_coordinates(text)
    assert words in str(caught.value) and caught.value.field.startswith("coordinates")


@pytest.mark.parametrize("digits", ["", "241", "24123", "24a2", "0400", "2012", "2400", "2460"])
def test_bad_four_digits_are_refused(digits: str) -> None:
    with pytest.raises(ShapeError) as caught:
        Naca4(digits)
    assert caught.value.field == "section" and caught.value.allowed


@pytest.mark.parametrize("digits", ["2301", "29012", "03012", "23000"])
def test_bad_five_digits_are_refused(digits: str) -> None:
    with pytest.raises(ShapeError):
        Naca5(digits)


def test_sides_out_of_order_are_refused() -> None:
    xy = Naca4("0012").at(np.linspace(1.0, -1.0, 21))
    xy[[3, 4]] = xy[[4, 3]]
    with pytest.raises(ShapeError, match="x must rise"):
        Coordinates(xy)
