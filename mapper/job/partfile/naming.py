"""Where a piece of a skin lies, and its name in words: "upper, station 1200 to 2400"."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon

from mapper.surface.place import place_of
from mapper.surface.round import has_angles
from mapper.surface.skin import Skin

# Corners are looked at this far inside (mm), where they are safely on the sheet.
_INSET = 0.05
_THIN = 0.02
# Points along an edge (mm), and the widest gap (degrees) a piece all round may have between them.
_STEP = 25.0
_ALL_ROUND = 12.0


@dataclass(frozen=True)
class Extent:
    """Least and greatest station (mm) and % chord of a piece; side "upper", "lower" or "both".

    angle: degrees round a closed body, growing from the first to the second, (0, 360) all round.
    NaN where the part has no stations, chords or angles.
    """

    station: tuple[float, float]
    chord: tuple[float, float]
    side: str
    angle: tuple[float, float] = (np.nan, np.nan)


def extent(skin: Skin, piece: MultiPolygon) -> Extent:
    """Where a piece lies; NaN and "both" for an empty one."""
    # Thinned out: a curved edge has thousands of corners, and words need a tenth of a mm.
    inner = piece.buffer(-_INSET).simplify(_THIN)
    shape = inner if not inner.is_empty else piece
    if has_angles(skin):
        # Straight edges of the flat map have corners at their ends only.
        shape = shapely.segmentize(shape, _STEP)
    points = shapely.get_coordinates(shape)
    places = place_of(skin, points)
    on = np.isfinite(places.station)
    aft = on & (places.chord > 1.0)
    upper, lower = bool((aft & places.upper).any()), bool((aft & ~places.upper).any())
    side = "both" if upper == lower else ("upper" if upper else "lower")
    angle = span_round(places.angle)
    low, high = _range(places.chord)
    if side == "both" and high < 99.0 and _runs_round(shape, points, aft, places.upper):
        low = 0.0  # a straight edge of the flat map has no corner where it crosses the nose
    return Extent(_range(places.station), (low, high), side, angle)


def _runs_round(
    shape: shapely.Geometry, points: np.ndarray, aft: np.ndarray, upper: np.ndarray
) -> bool:
    """Whether one polygon of a piece has corners (K, 2) on both sides: it runs round the nose."""
    numbers = shapely.get_coordinates(shapely.get_parts(shape), return_index=True)[1]
    both = [np.unique(upper[aft & (numbers == n)]).size == 2 for n in np.unique(numbers)]
    return len(numbers) == len(points) and any(both)


def span_round(angles: np.ndarray) -> tuple[float, float]:
    """Where angles (degrees) begin and end going round: behind their widest gap.

    (0, 360) all round, NaN for none.
    """
    known = np.unique(np.round(np.mod(angles[np.isfinite(angles)], 360.0), 6))
    if len(known) == 0:
        return np.nan, np.nan
    gaps = np.diff(np.append(known, known[0] + 360.0))
    widest = int(np.argmax(gaps))
    if gaps[widest] < _ALL_ROUND:
        return 0.0, 360.0
    return float(known[(widest + 1) % len(known)]), float(known[widest])


def _range(values: np.ndarray) -> tuple[float, float]:
    known = values[np.isfinite(values)]
    return (float(known.min()), float(known.max())) if len(known) else (np.nan, np.nan)


def side_words(where: Extent) -> str:
    """ "upper", "lower"; "nose" where both sides hang together round the leading edge."""
    if where.side != "both":
        return where.side
    return "nose" if where.chord[1] < 99.0 else "upper and lower"


def panel_words(where: Extent, whole: Extent, scale: float) -> str:
    """The name of a panel from where it lies; what the whole skin has too is left out.

    scale: mm per unit of the part file. "whole skin" for a piece that is all of it.
    """
    words = []
    if where.side != whole.side or where.chord[1] < whole.chord[1] - 0.5:
        words.append(side_words(where))
    if _differs(where.station, whole.station, 1.0):
        low, high = (_number(v / scale, scale) for v in where.station)
        words.append(f"station {low} to {high}")
    if _differs(where.chord, whole.chord, 0.2):
        low, high = (f"{v:.0f}" for v in where.chord)
        words.append(f"{low} to {high} % chord")
    if _is_part_round(where):
        words.append(round_words(where))
    return ", ".join(words) if words else "whole skin"


def _is_part_round(where: Extent) -> bool:
    return bool(np.isfinite(where.angle[0])) and where.angle != (0.0, 360.0)


def round_words(where: Extent) -> str:
    """ "30 to 60 degrees round"; "all round"."""
    if not _is_part_round(where):
        return "all round"
    low, high = (f"{v:.0f}" for v in where.angle)
    return f"{low} to {high} degrees round"


def round_bay_words(where: Extent, whole: Extent, frames: Iterable[tuple[str, float]]) -> str:
    """The name of a body's bay from the frames (name, station) that bound it and its angles."""
    along = _bounded(where.station, whole.station, tuple(frames), 1.0, ("front", "aft end"))
    return ", ".join(w for w in (along, round_words(where)) if w)


def _differs(one: tuple[float, float], other: tuple[float, float], least: float) -> bool:
    return any(abs(a - b) > least for a, b in zip(one, other))


def _number(value: float, scale: float) -> str:
    return f"{value:.0f}" if scale == 1.0 else f"{value:.1f}".removesuffix(".0")


def bay_words(
    where: Extent,
    whole: Extent,
    ribs: Iterable[tuple[str, float]],
    spars: Iterable[tuple[str, float]],
) -> str:
    """The name of a bay from the ribs (name, station) and spars (name, % chord) that bound it."""
    along = _bounded(where.station, whole.station, tuple(ribs), 1.0, ("root", "tip"))
    across = _bounded(
        where.chord, whole.chord, tuple(spars), 0.2, ("leading edge", "trailing edge")
    )
    if where.side == "both" and where.chord[1] < 99.0:
        across = across.replace("leading edge to ", "forward of the ")
    return ", ".join(w for w in (side_words(where), along, across) if w)


def _bounded(
    span: tuple[float, float],
    whole: tuple[float, float],
    lines: tuple[tuple[str, float], ...],
    slack: float,
    ends: tuple[str, str],
) -> str:
    if not lines or not np.isfinite(span).all():
        return ""
    words = []
    for value, edge, end in zip(span, whole, ends):
        near = [name for name, at in lines if abs(at - value) <= slack]
        words.append(near[0] if near else end if abs(edge - value) <= slack else f"{value:.0f}")
    return " to ".join(words)


def unique(names: Iterable[str]) -> list[str]:
    """The names, a repeated one with (2), (3) ... behind it."""
    seen: dict[str, int] = {}
    out = []
    for name in names:
        seen[name] = seen.get(name, 0) + 1
        out.append(name if seen[name] == 1 else f"{name} ({seen[name]})")
    return out
