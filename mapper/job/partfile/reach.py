"""Where a skin lies, said when what was asked for is not on it."""

from __future__ import annotations

import numpy as np

from mapper.job.partfile.select import Selection
from mapper.surface.geometry import Geometry
from mapper.surface.skin import Skin
from mapper.units import Units

_READING = 0.5  # mm


def reach_words(geometry: Geometry, skin: Skin, selection: Selection, units: Units) -> list[str]:
    """What there is of a skin in the terms asked for: its stations, and what it covers in plan.

    One sentence for stations and one for a plan circle, in that order, whether or not these are
    what misses; [] where neither was asked for.
    """
    words = []
    stations = skin.station[np.isfinite(skin.station)]
    if selection.stations and len(stations):
        low, high = _span(stations, units)
        lies = f"lies at station {low}" if low == high else f"has stations {low} to {high}"
        words.append(f'The skin "{skin.name}" {lies}.')
    if selection.circle:
        aft = _span(skin.points[:, 0], units)
        # Y is asked for outboard on either hand, and the left one's own frame runs to -y.
        outboard = skin.points[:, 1] * (-1.0 if geometry.mirrored else 1.0)
        out = _span(outboard, units)
        words.append(
            f'In plan the skin "{skin.name}" lies from {aft[0]} to {aft[1]} aft and from {out[0]} '
            f"to {out[1]} outboard."
        )
    return words


def beyond(skin: Skin, stations: tuple[float, float], units: Units) -> str:
    """Words for a reach of stations (mm) that goes on where the skin has ended, by more than a
    tape's reading (half a mm); "" where it does not, and where it meets nothing of the skin."""
    here = skin.station[np.isfinite(skin.station)]
    if not len(here):
        return ""
    first, last = float(here.min()), float(here.max())
    off = [s for s in stations if not first - _READING <= s <= last + _READING]
    if not off or stations[0] > last or stations[1] < first:
        return ""
    low, high = _span(here, units)
    ways = " and ".join(units.told(s, "mm") for s in off)
    return (
        f"the skin {skin.name!r} has stations {low} to {high}, and {ways} was given: only what "
        "lies on it is taken."
    )


def _span(values: np.ndarray, units: Units) -> tuple[str, str]:
    low, high = float(np.min(values)), float(np.max(values))
    return units.show(low, "mm", digits=4), units.show(high, "mm", digits=4)
