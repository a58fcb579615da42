"""How far a skin's flat map is from the true shape, in words a sheet-metal worker can use."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.polynomial.legendre import leggauss
from numpy.typing import NDArray

from mapper.surface.flux import stretched_charts
from mapper.surface.skin import Chart, Skin

Array = NDArray[np.float64]

_NODES, _WEIGHTS = leggauss(6)
_NODES, _WEIGHTS = 0.5 * (_NODES + 1.0), 0.5 * _WEIGHTS
SMALLEST = 1e-3  # %: below this nobody can tell


@dataclass(frozen=True)
class Stretch:
    """The largest change, in %, that laying a skin flat makes, either way; 0 where it lies flat.

    area_percent: of the area of one small piece (a triangle of the skin) against its true area.
    length_percent: of a short line (a triangle's side) against its true length on the surface.
    station: mm, where the area changes most; NaN where nothing does. words: the same as a sentence.
    """

    area_percent: float
    length_percent: float
    station: float
    words: str


def _side_changes(skin: Skin, chart: Chart) -> Array:
    """Flat over true length, less 1, of the sides (M, 3) of a chart's triangles."""
    tri = skin.triangles[chart.first : chart.last]
    start, stop = tri, np.roll(tri, -1, axis=1)
    flat = np.linalg.norm(skin.flat[stop] - skin.flat[start], axis=-1)
    step = skin.param[stop] - skin.param[start]
    at = skin.param[start][:, :, None] + _NODES[:, None] * step[:, :, None]
    along_s, along_t = chart.patch.partials(at[..., 0], at[..., 1])
    velocity = along_s * step[:, :, None, :1] + along_t * step[:, :, None, 1:]
    true = np.linalg.norm(velocity, axis=-1) @ _WEIGHTS
    # A side without length (a section that ends in a point) has no stretch to tell.
    long = true > 0
    return np.where(long, flat / np.where(long, true, 1.0) - 1.0, 0.0)


def worst_stretch(skin: Skin) -> Stretch:
    """The largest change of area and of length anywhere on a skin's flat map.

    Areas measured on the map are right all the same: they are those of the true surface. Only
    distances and shapes read off the paper are changed by this much.
    """
    area, length, where = 0.0, 0.0, np.nan
    for number in stretched_charts(skin):
        chart = skin.charts[number]
        rows = slice(chart.first, chart.last)
        a, b, c = (skin.flat[skin.triangles[rows, k]] for k in range(3))
        flat = 0.5 * np.abs(
            (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
        )
        change = np.abs(flat / skin.patch_area[rows] - 1.0)
        worst = int(np.argmax(change))
        if change[worst] > area:
            area = float(change[worst])
            where = float(np.mean(skin.station[skin.triangles[chart.first + worst]]))
        length = max(length, float(np.max(np.abs(_side_changes(skin, chart)))))
    area, length = 100.0 * area, 100.0 * length
    return Stretch(area, length, where, _words(area, length, where))


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
