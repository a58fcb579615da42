"""Points inside a part: whether they are, and from which places of its skin they are seen.

Ribs stand at stations and spars at % chord, so a point inside a wing belongs to the station it lies
at and to the % chord of its foot on that station's own chord line, on the upper and on the lower
side alike; inside a round body to its station and the angle round. A point on a spar's web is seen
from the spar's own line that way, however deep the wing is. Elsewhere it is the skin's nearest
point, and inside is what the skins go round more than half way (the winding number).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from mapper.late import Late
from mapper.surface.place import flat_at_space, points_of
from mapper.surface.round import round_patch
from mapper.surface.skin import Chart, Skin
from meshes.cap import CapPatch
from meshes.chorded import Chorded
from meshes.folded import FoldedPatch
from meshes.mirror import FLIP, unmirrored
from meshes.plane import PlanePatch

if TYPE_CHECKING:
    import igl
else:
    igl = Late("igl")

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

SLACK = 10.0  # mm beyond the surface that still count as inside: a sheet, a rivet head, a tape
ENOUGH = 0.5  # of the way round: as much as the skins must go round a point that is inside


@dataclass(frozen=True, eq=False)
class Within:
    """How K points lie in a part. inside (K,); flat (K, 2, 2): the flat places, mm, of the skin
    that a point is seen from, on the upper and the lower side, both the same on other skins; NaN
    for points that are not inside."""

    inside: Flags
    flat: Array


def is_flat_sheet(skin: Skin) -> bool:
    """Whether a skin is one flat sheet, which has no inside: a plate, a rib, a web."""
    patches = [unmirrored(chart.patch) for chart in skin.charts]
    return all(isinstance(p, PlanePatch) and not isinstance(p, FoldedPatch) for p in patches)


def within(skin: Skin, xyz: ArrayLike, others: Sequence[Skin] = ()) -> Within:
    """How points (K, 3) mm of the part's frame lie within a skin; see above.

    others: the part's other skins, which close it where it has no stations. Of a flat sheet, which
    has no inside, all points count whose foot is on it. Points up to SLACK mm outside count as
    inside; what is no number does not. K = 0 gives empty arrays.
    """
    given = points_of(xyz, 3)
    known = np.isfinite(given).all(axis=1)
    found = _found(len(given))
    if known.any():
        part = _within(skin, given[known], others)
        found.inside[known], found.flat[known] = part.inside, part.flat
    return found


def _within(skin: Skin, points: Array, others: Sequence[Skin]) -> Within:
    # Stationed patches are the right-hand part's, whichever hand the skin has.
    own = points * FLIP if skin.mirrored else points
    patches = [unmirrored(chart.patch) for chart in skin.charts]
    if all(isinstance(p, Chorded) and p.chorded for p in patches):
        return _in_sections(skin, own)
    # The half ellipses of a rounded tip are no rings: their angle goes round half way.
    rings = not any(isinstance(p, CapPatch) for p in patches)
    if rings and all(round_patch(chart) is not None for chart in skin.charts):
        return _in_rings(skin, own)
    flat, away = flat_at_space(skin, points)
    if is_flat_sheet(skin):
        inside = _over_the_sheet(skin.charts[0], points)
    else:
        inside = (away <= SLACK) | _gone_round([skin, *others], points)
    both = np.repeat(flat[:, None], 2, axis=1)
    both[~inside] = np.nan
    return Within(inside, both)


def _found(count: int) -> Within:
    return Within(np.zeros(count, np.bool_), np.full((count, 2, 2), np.nan))


def _stations(skin: Skin, along: Array, datum: float) -> Array:
    """Stations (K,) mm of points that far along the axis; up to SLACK beyond an end, that end."""
    station = along + datum
    low, high = float(skin.station.min()), float(skin.station.max())
    near = (station >= low - SLACK) & (station <= high + SLACK)
    return np.where(near, np.clip(station, low, high), np.nan)


def _in_sections(skin: Skin, points: Array) -> Within:
    """In a wing: between its two sides at one station and % chord."""
    found = _found(len(points))
    for chart in skin.charts:
        patch = unmirrored(chart.patch)
        if not isinstance(patch, Chorded):
            continue
        at = patch.t_at_station(_stations(skin, points[:, 1], patch.datum))
        rows = np.flatnonzero((at >= 0.0) & (at <= 1.0) & ~found.inside)
        t = at[rows]
        lead, tail = patch.chord_line(t)
        size = np.linalg.norm(tail, axis=-1)
        along = tail / size[:, None]
        up = np.stack([-along[:, 2], np.zeros(len(t)), along[:, 0]], axis=-1)
        rest = points[rows] - lead
        run, height = np.sum(rest * along, axis=-1), np.sum(rest * up, axis=-1)
        near = (run >= -SLACK) & (run <= size + SLACK)
        chord = np.where(near, np.clip(100.0 * run / size, 0.0, 100.0), np.nan)
        ends = np.full((len(rows), 2), np.nan)
        for k, upper in enumerate((True, False)):
            s = patch.s_at_chord(t, chord, upper)
            on = np.isfinite(s)
            found.flat[rows[on], k] = chart.flat_map.to_flat(np.stack([s[on], t[on]], axis=-1))
            ends[on, k] = np.sum((patch.at(s[on], t[on]) - lead[on]) * up[on], axis=-1)
        found.inside[rows] = (height <= ends[:, 0] + SLACK) & (height >= ends[:, 1] - SLACK)
    found.flat[~found.inside] = np.nan
    return found


def _in_rings(skin: Skin, points: Array) -> Within:
    """In a round body: nearer to the middle of its cross-section than the skin at one angle."""
    found = _found(len(points))
    for chart in skin.charts:
        patch = round_patch(chart)
        if patch is None:
            continue
        at = patch.t_at_station(_stations(skin, points[:, 0], patch.datum))
        rows = np.flatnonzero((at >= 0.0) & (at <= 1.0) & ~found.inside)
        t = at[rows]
        rest = points[rows][:, 1:] - patch.middle(t)
        s = patch.s_at_angle(t, np.degrees(np.arctan2(rest[:, 0], rest[:, 1])))
        on = np.isfinite(s)
        rows, t, s, rest = rows[on], t[on], s[on], rest[on]
        wall = patch.at(s, t)[:, 1:] - patch.middle(t)
        found.flat[rows] = chart.flat_map.to_flat(np.stack([s, t], axis=-1))[:, None]
        far = np.linalg.norm(rest, axis=-1)
        found.inside[rows] = far <= np.linalg.norm(wall, axis=-1) + SLACK
    found.flat[~found.inside] = np.nan
    return found


def _over_the_sheet(chart: Chart, points: Array) -> Flags:
    """Whether points stand square above or below a flat piece, or up to SLACK mm beside it."""
    origin = chart.patch.at(0.0, 0.0)
    e1, e2 = chart.patch.partials(0.0, 0.0)
    foot = np.stack([(points - origin) @ e1, (points - origin) @ e2], axis=-1)
    flat = chart.flat_map.to_flat(foot)
    return np.asarray(shapely.dwithin(chart.outline, shapely.points(flat), SLACK))


def _gone_round(skins: Sequence[Skin], points: Array) -> Flags:
    """Whether the skins together go round each point by more than ENOUGH."""
    first = np.cumsum([0, *(len(skin.points) for skin in skins[:-1])])
    corners = np.concatenate([skin.points for skin in skins])
    faces = np.concatenate([s.triangles.astype(np.int64) + k for s, k in zip(skins, first)])
    turns = igl.winding_number(np.ascontiguousarray(corners), faces, np.ascontiguousarray(points))
    return np.asarray(np.abs(np.reshape(turns, -1)) > ENOUGH)


def spread_over(skins: Sequence[Skin], count: int) -> Array:
    """(K, 3) points mm spread over skins by area, at most `count`: middles of triangles, none for
    skins without area. The same ones for the same skins, always."""
    middle = np.concatenate([skin.points[skin.triangles].mean(axis=1) for skin in skins])
    size = np.concatenate([skin.patch_area for skin in skins])
    # Mixed first (by a multiplicative hash): rows of a regular mesh would else be hit in step.
    mixed = np.argsort((np.arange(len(size), dtype=np.uint64) * 2654435761) % 4294967296)
    run = np.cumsum(size[mixed])
    if not len(run) or run[-1] <= 0.0:
        return np.zeros((0, 3))
    wanted = (np.arange(count) + 0.5) / count * run[-1]
    return np.asarray(middle[mixed][np.searchsorted(run, wanted)])
