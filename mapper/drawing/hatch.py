"""Hatches as lines clipped to a region, made once for every pen.

SVG patterns differ between renderers and are slow; a list of line pieces is neither. Lines are laid
from one origin for the whole plane, so that neighbouring regions of a kind hatch as one.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from mapper.drawing.display import View
from mapper.drawing.style import Family
from mapper.errors import MapperError

Array = NDArray[np.float64]

# More lines than this in one family is a mistake of scale, and would hang the program.
MOST_LINES = 20_000


def line_pieces(geometry: BaseGeometry) -> Array:
    """(K, 2, 2) the straight pieces of all lines in a geometry; (0, 2, 2) where there are none."""
    parts = shapely.get_parts(shapely.get_parts(np.atleast_1d(np.asarray(geometry, dtype=object))))
    lines = parts[shapely.get_type_id(parts) == 1]
    if not len(lines):
        return np.zeros((0, 2, 2))
    xy, which = shapely.get_coordinates(lines, return_index=True)
    same = which[1:] == which[:-1]
    return np.stack([xy[:-1][same], xy[1:][same]], axis=1)


def _dashed(pieces: Array, along: Array, dash: tuple[float, ...]) -> Array:
    """Cut pieces (K, 2, 2), all parallel to `along`, into dashes phased from the plane's origin."""
    if not len(pieces):
        return pieces
    turn = float(sum(dash))
    starts = pieces[:, 0] @ along
    ends = pieces[:, 1] @ along
    flip = ends < starts
    low, high = np.where(flip, ends, starts), np.where(flip, starts, ends)
    base = (
        pieces[:, 0] - starts[:, None] * along
    )  # foot of each line on the axis through the origin
    first = np.floor(low / turn).astype(np.int64)
    count = np.floor(high / turn).astype(np.int64) - first + 1
    which = np.repeat(np.arange(len(pieces)), count)
    inside = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)
    turn_at = (first[which] + inside) * turn
    out = []
    offset = 0.0
    for mark, gap in zip(dash[::2], dash[1::2], strict=True):
        begin = np.maximum(turn_at + offset, low[which])
        stop = np.minimum(turn_at + offset + mark, high[which])
        keep = stop > begin
        ends_of = np.stack([begin[keep], stop[keep]], axis=1)
        out.append(base[which[keep]][:, None, :] + ends_of[:, :, None] * along)
        offset += mark + gap
    return np.concatenate(out)


def hatch_lines(
    region: BaseGeometry, family: Family, scale: float, view: View | None = None
) -> Array:
    """(K, 2, 2) flat mm: one family's lines inside a region of the flat plane.

    scale: flat mm per mm on paper. The family's angle is that seen on paper, so the lines of a
    turned view are laid the other way in the plane. Empty region: (0, 2, 2). MapperError where the
    region would need more than MOST_LINES lines.
    """
    if region.is_empty or region.area == 0:
        return np.zeros((0, 2, 2))
    view = view or View()
    angle = np.deg2rad(family.angle)
    along = view.turn([[np.cos(angle), np.sin(angle)]])[0]
    across = np.array([-along[1], along[0]])
    gap = family.gap * scale
    x0, y0, x1, y1 = region.bounds
    corners = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
    a, c = corners @ along, corners @ across
    shift = family.shift * scale
    steps = np.arange(np.ceil((c.min() - shift) / gap), np.floor((c.max() - shift) / gap) + 1)
    if len(steps) > MOST_LINES:
        raise MapperError(
            f"A hatch with {len(steps):,} lines was asked for.",
            f"A drawing takes at most {MOST_LINES:,} in one region.",
            "Draw at a smaller scale, or a smaller region.",
        )
    if not len(steps):
        return np.zeros((0, 2, 2))
    offset = steps * gap + shift
    low, high = a.min() - gap, a.max() + gap
    ends = np.stack(
        [low * along + offset[:, None] * across, high * along + offset[:, None] * across], axis=1
    )
    shapely.prepare(region)
    cut = shapely.intersection(shapely.linestrings(ends), region)
    pieces = line_pieces(cut)
    if family.dash:
        pieces = _dashed(pieces, along, tuple(v * scale for v in family.dash))
    return pieces
