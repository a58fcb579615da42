"""The exponential of a sheet's matrix as a series, against dense matrices and by the resolvent.

Judges: scipy.linalg.expm (scaling and squaring, dense), which knows nothing of the series.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import sparse
from scipy.linalg import expm

from mapper.surface import flips, series
from mapper.surface.build import make_skin
from mapper.surface.finer import fine_of, turned
from mapper.surface.smooth import Resolvent, mass, resolvent, smoother_on, stiffness
from meshes.plate import plate
from tests.surface.handmade import tube
from tests.surface.round_skins import sphere


def sheet(triangles=1600):
    ring = np.array([[0.0, 0.0], [500.0, 0.0], [500.0, 400.0], [0.0, 400.0]])
    return fine_of(make_skin(plate(ring)[0], triangles=triangles))


def matrices(fine):
    vertex, side = turned(fine)
    return mass(fine), stiffness(vertex, side, fine.count)


@pytest.mark.parametrize(
    "make", [sheet, lambda: fine_of(tube()), lambda: fine_of(sphere(around=30, along=12))]
)
@pytest.mark.parametrize("columns", [None, 1, 2, 5])
def test_the_series_is_the_exponential(make, columns, monkeypatch):
    monkeypatch.setattr(series, "LARGE", np.inf)  # every corner as it is
    weights, stiff = matrices(make())
    time = 4.0 * float(weights.sum()) / len(weights)
    load = np.random.default_rng(1).uniform(0, 1, (len(weights),) + (columns,) * bool(columns))
    made = series.series_of(weights, stiff, time)
    exact = expm(-time * stiff.toarray() / weights[:, None]) @ (load.T / weights).T
    assert made.spread(load) == pytest.approx(exact, abs=1e-9 * np.abs(load.T / weights).max())


def test_corners_that_follow_keep_all_and_change_little(monkeypatch):
    """A corner moved to a hair from its neighbour: its eigenvalue is a thousand times the others',
    the sheet is the same. Judge: expm of the whole matrix, with every corner its own."""
    fine = sheet(6400)
    near = int(np.argmin(np.abs(fine.flat - [250.0, 200.0]).sum(axis=2).min(axis=1)))
    one, two = fine.vertex[near, :2]
    flat = fine.flat.copy()
    step = 0.985 * (flat[near, 1] - flat[near, 0])
    flat[fine.vertex == one] += step
    moved = type(fine)(fine.vertex, flat, flat)  # a plane sheet is laid out by its map
    assert np.all(moved.area > 0.0)
    weights, stiff = matrices(moved)
    bound = series._bound(weights, stiff)
    assert bound.max() > 30 * np.median(bound)
    time = 0.5 * 150.0**2
    plain = expm(-time * stiff.toarray() / weights[:, None])
    monkeypatch.setattr(series, "FEW", 0.01)
    made = series.series_of(weights, stiff, time)
    assert 0 < len(made._following) <= 0.01 * len(weights)
    monkeypatch.setattr(series, "LARGE", np.inf)
    assert made.terms < series.series_of(weights, stiff, time).terms / 1.5
    for corner in (one, two):
        load = np.zeros(len(weights))
        load[corner] = 1.0
        found, exact = made.spread(load), plain @ (load / weights)
        assert weights @ found == pytest.approx(1.0, rel=1e-12)
        assert found.min() > -1e-6 * found.max()
        assert np.abs(found - exact).max() < 2e-3 * exact.max()
    assert made.spread(weights) == pytest.approx(1.0, abs=1e-9)


def test_a_piece_of_nothing_but_few_corners_is_not_lost(monkeypatch):
    """Two sheets that touch nowhere, one of a single tiny triangle: it has nobody to follow."""
    fine = sheet(800)
    tiny = np.array([[[900.0, 0.0], [901.0, 0.0], [900.0, 1.0]]])
    more = np.arange(3, dtype=np.int32)[None] + fine.count
    both = type(fine)(
        np.concatenate([fine.vertex, more]), np.concatenate([fine.lay, tiny]),
        np.concatenate([fine.flat, tiny]),
    )  # fmt: skip
    monkeypatch.setattr(series, "FEW", 0.01)
    smoother = smoother_on("two", both, 60.0)
    load = np.zeros(both.count)
    load[-1] = 1.0
    values = smoother.spread(load)
    assert smoother.amount(values) == pytest.approx(1.0, rel=1e-9)
    assert values[-3:] == pytest.approx(2.0, rel=1e-6)  # one on half a mm2
    assert np.abs(values[:-3]).max() < 1e-12


def test_triangles_too_small_for_the_width_are_factored():
    """Both ways give the same; the factor's own error is 3e-5 of the peak."""
    fine = sheet(6400)
    weights, stiff = matrices(fine)
    assert series.series_of(weights, stiff, 0.5 * 2000.0**2) is None
    assert isinstance(smoother_on("sheet", fine, 2000.0).exponential, Resolvent)
    made = series.series_of(weights, stiff, 0.5 * 60.0**2)
    load = np.zeros((fine.count, 3))
    load[[0, 300, 700], [0, 1, 2]] = 1.0
    one, two = made.spread(load), resolvent(fine, weights, stiff, 0.5 * 60.0**2).spread(load)
    assert np.abs(one - two).max() < 1e-3 * one.max()


def test_sheets_without_stiffness_stay_as_they_are():
    """No side between two corners of a mass: nothing flows, at any time."""
    made = series.series_of(np.array([2.0, 4.0]), sparse.csr_array((2, 2)), 1e6)
    assert made.spread(np.array([1.0, 1.0])) == pytest.approx([0.5, 0.25])


def test_triangles_across_sides():
    """By looking at every pair, on triangles thrown together: met by none, one or more, either
    way round."""
    rng = np.random.default_rng(3)
    for corners in (4, 6, 30):
        vertex = np.array([rng.permutation(corners)[:3] for _ in range(20)], np.int32)
        opp, back = flips.across(vertex, corners)
        side = vertex[:, [[1, 2], [2, 0], [0, 1]]].reshape(-1, 2).tolist()
        for e, (a, b) in enumerate(side):
            there = [f for f, other in enumerate(side) if other in ([a, b], [b, a]) and f != e]
            whole = len(there) == 1 and side[there[0]] == [b, a]
            expected = divmod(there[0], 3) if whole else (-1, -1)
            assert (opp[e // 3, e % 3], back[e // 3, e % 3]) == expected
