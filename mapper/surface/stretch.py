"""How far a skin's flat map is from the true shape, in words a sheet-metal worker can use."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.polynomial.legendre import leggauss
from numpy.typing import NDArray

from mapper.surface.flux import stretched_charts
from mapper.surface.ground import ground_of
from mapper.surface.skin import Chart, Skin

Array = NDArray[np.float64]

_NODES, _WEIGHTS = leggauss(6)
_NODES, _WEIGHTS = 0.5 * (_NODES + 1.0), 0.5 * _WEIGHTS
SMALLEST = 1e-3  # %: below this nobody can tell


@dataclass(frozen=True)
class Stretch:
    """The largest change, in %, that laying a skin flat makes, either way; 0 where it lies flat.

    area_percent: of the area of one small piece (a cell of the skin's mesh) against its true area.
    length_percent: of a short line (a cell's side) against its true length on the surface.
    station: mm, where the area changes most; NaN where nothing does. words: the same as a sentence.
    """

    area_percent: float
    length_percent: float
    station: float
    words: str


def _sides(skin: Skin, chart: Chart) -> tuple[NDArray[np.int32], NDArray[np.int32], Array]:
    """Start and stop vertices (M, 3) of a chart's triangles' sides and the steps (M, 3, 2) of
    parameters along them."""
    start = skin.triangles[chart.first : chart.last]
    stop = np.roll(start, -1, axis=1)
    return start, stop, skin.param[stop] - skin.param[start]


def _length_change(skin: Skin, chart: Chart) -> float:
    """Largest change of length of a side that runs along a parameter line.

    The others are curves on the surface that are not meant to be straight on the map.
    """
    start, stop, step = _sides(skin, chart)
    used = np.any(step == 0.0, axis=-1)
    if not np.any(used):
        used = np.ones(start.shape, bool)
    start, stop, step = start[used], stop[used], step[used]
    flat = np.linalg.norm(skin.flat[stop] - skin.flat[start], axis=-1)
    at = skin.param[start][:, None] + _NODES[:, None] * step[:, None]
    along_s, along_t = chart.patch.partials(at[..., 0], at[..., 1])
    velocity = along_s * step[:, None, :1] + along_t * step[:, None, 1:]
    true = np.linalg.norm(velocity, axis=-1) @ _WEIGHTS
    # A side without length (a section that ends in a point) has no stretch to tell.
    long = true > 0
    return float(np.max(np.abs(flat[long] / true[long] - 1.0), initial=0.0))


def _cells(skin: Skin, chart: Chart) -> NDArray[np.intp]:
    """(M,) a number for each of a chart's triangles that the two of one mesh cell share.

    The halves of a cell are parted by a side that follows no parameter line: a curve on the surface
    but straight on the map, so that one half gains what the other loses without any stretch.
    """
    start, stop, step = _sides(skin, chart)
    slanted = np.all(step != 0.0, axis=-1)
    rows = np.arange(len(start))
    column = np.argmax(slanted, axis=1)
    ends = np.sort(np.stack([start[rows, column], stop[rows, column]], axis=1), axis=1)
    alone = slanted.sum(axis=1) != 1
    ends[alone] = np.stack([-1 - rows, -1 - rows], axis=1)[alone]
    return np.unique(ends, axis=0, return_inverse=True)[1].reshape(-1)


def worst_stretch(skin: Skin) -> Stretch:
    """The largest change of area and of length anywhere on a skin's flat map.

    Areas measured on the map are right all the same: they are those of the true surface. Only
    distances and shapes read off the paper are changed by this much.
    """
    area, length, where = 0.0, 0.0, np.nan
    skin = ground_of(skin)
    for number in stretched_charts(skin):
        chart = skin.charts[number]
        rows = slice(chart.first, chart.last)
        a, b, c = (skin.flat[skin.triangles[rows, k]] for k in range(3))
        flat = 0.5 * np.abs(
            (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
        )
        cell = _cells(skin, chart)
        change = np.abs(np.bincount(cell, flat) / np.bincount(cell, skin.patch_area[rows]) - 1.0)
        worst = int(np.argmax(change))
        if change[worst] > area:
            area = float(change[worst])
            corners = skin.triangles[rows][cell == worst]
            where = float(np.mean(skin.station[corners]))
        length = max(length, _length_change(skin, chart))
    area, length = 100.0 * area, 100.0 * length
    return Stretch(area, length, where, _words(area, length, where))


def stretch_behind(skin: Skin, station: float) -> float:
    """Largest change of area, %, of the mesh cells that lie wholly aft of a station (mm); 0 where
    there are none or the map is exact."""
    worst = 0.0
    skin = ground_of(skin)
    for number in stretched_charts(skin):
        chart = skin.charts[number]
        rows = slice(chart.first, chart.last)
        a, b, c = (skin.flat[skin.triangles[rows, k]] for k in range(3))
        flat = 0.5 * np.abs(
            (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
        )
        cell = _cells(skin, chart)
        behind = skin.station[skin.triangles[rows]].min(axis=1) >= station
        whole = np.bincount(cell, ~behind) == 0
        change = np.abs(np.bincount(cell, flat) / np.bincount(cell, skin.patch_area[rows]) - 1.0)
        worst = max(worst, float(np.max(change[whole], initial=0.0)))
    return 100.0 * worst


def _words(area: float, length: float, station: float) -> str:
    if area == 0.0 and length == 0.0:
        return "lies flat without stretch"
    if max(area, length) < SMALLEST:
        return f"lies flat with less than {SMALLEST:g} % of stretch"
    place = f", worst at station {station:,.0f} mm" if np.isfinite(station) else ""
    return f"at most {_percent(area)} in area, {_percent(length)} in length{place}"


def _percent(value: float) -> str:
    """Rounded up to two figures: a limit may not be understated."""
    if value <= 0.0:
        return "0 %"
    step = 10.0 ** (np.floor(np.log10(value)) - 1)
    up = float(np.ceil(value / step - 1e-9) * step)
    return f"{up:.{max(0, int(-np.floor(np.log10(step))))}f} %"
