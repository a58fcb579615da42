"""Whether plane rings are simple and lie in one another; numbers only, no geometry library."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from meshes.check import ring
from meshes.errors import ShapeError
from meshes.patch import Array

# Pairs of edges looked at in one go, to bound the memory.
BLOCK = 2_000_000


def _side(a: Array, b: Array, c: Array) -> Array:
    """Twice the signed area of triangles a, b, c: on which side of a -> b the point c lies."""
    ab, ac = b - a, c - a
    return np.asarray(ab[..., 0] * ac[..., 1] - ab[..., 1] * ac[..., 0])


def _within(a: Array, b: Array, c: Array) -> NDArray[np.bool_]:
    """True where c lies in the box of a and b."""
    low, high = np.minimum(a, b), np.maximum(a, b)
    return np.asarray(np.all((c >= low) & (c <= high), axis=-1))


def _meet(a: Array, b: Array, c: Array, d: Array) -> NDArray[np.bool_]:
    """True where the segments a-b and c-d have a point in common, ends included."""
    s1, s2, s3, s4 = _side(a, b, c), _side(a, b, d), _side(c, d, a), _side(c, d, b)
    cross = (np.sign(s1) * np.sign(s2) < 0) & (np.sign(s3) * np.sign(s4) < 0)
    touch = (s1 == 0) & _within(a, b, c) | (s2 == 0) & _within(a, b, d)
    return np.asarray(cross | touch | (s3 == 0) & _within(c, d, a) | (s4 == 0) & _within(c, d, b))


def rings_meet(first: Array, second: Array) -> bool:
    """True where the edges of two closed rings have a point in common."""
    return len(_meetings(first, second)) > 0


def _meetings(first: Array, second: Array) -> NDArray[np.intp]:
    """(K, 2) numbers of the edges of two rings that have a point in common."""
    a, b = first, np.roll(first, -1, axis=0)
    c, d = second, np.roll(second, -1, axis=0)
    step = max(1, BLOCK // len(second))
    found = []
    for k in range(0, len(first), step):
        part = slice(k, k + step)
        # Boxes first: they rule nearly every pair out.
        low, high = np.minimum(a[part], b[part])[:, None], np.maximum(a[part], b[part])[:, None]
        near = np.all((low <= np.maximum(c, d)) & (high >= np.minimum(c, d)), axis=-1)
        i, j = np.nonzero(near)
        hit = _meet(a[part][i], b[part][i], c[j], d[j])
        found.append(np.stack([i[hit] + k, j[hit]], axis=-1))
    return np.concatenate(found)


def crosses_itself(points: Array) -> bool:
    """True where edges of a closed ring that are no neighbours meet, or neighbours fold back."""
    count = len(points)
    pairs = _meetings(points, points)
    apart = (pairs[:, 1] - pairs[:, 0]) % count
    if np.any((apart > 1) & (apart < count - 1)):
        return True
    ahead = np.roll(points, -1, axis=0) - points
    after = np.roll(ahead, -1, axis=0)
    straight = ahead[:, 0] * after[:, 1] - ahead[:, 1] * after[:, 0] == 0.0
    return bool(np.any(straight & (np.sum(ahead * after, axis=1) < 0.0)))


def holds_point(points: Array, place: Array) -> bool:
    """True where a point (2,) lies inside a closed ring (crossings of a ray to the right)."""
    a, b = points, np.roll(points, -1, axis=0)
    spans = (a[:, 1] > place[1]) != (b[:, 1] > place[1])
    rise = np.where(spans, b[:, 1] - a[:, 1], 1.0)
    x = a[:, 0] + (place[1] - a[:, 1]) / rise * (b[:, 0] - a[:, 0])
    return bool(np.count_nonzero(spans & (x > place[0])) % 2)


def holds_ring(outer: Array, inner: Array) -> bool:
    """True where a ring lies inside another without touching it."""
    return holds_point(outer, inner[0]) and not rings_meet(outer, inner)


def simple_ring(field: str, values: ArrayLike) -> Array:
    """`meshes.check.ring`, and ShapeError where the outline crosses or touches itself."""
    result = ring(field, values)
    if crosses_itself(result):
        raise ShapeError(
            field,
            "The outline crosses or touches itself.",
            "A simple outline is allowed, its corners in order.",
            "Put the corners in order round the edge.",
        )
    return result
