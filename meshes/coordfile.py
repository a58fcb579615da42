"""Reading a section from the two common two-column text forms."""

from __future__ import annotations

import numpy as np

from meshes.errors import ShapeError
from meshes.patch import Array
from meshes.sections import Coordinates


def _rows(text: str) -> tuple[str, list[tuple[int, float, float]]]:
    name = ""
    rows: list[tuple[int, float, float]] = []
    for count, line in enumerate(text.lstrip("\ufeff").splitlines(), start=1):
        words = line.replace(",", " ").split()
        if not words or words[0].startswith(("#", "%", "!")):
            continue
        try:
            numbers = [float(w) for w in words]
        except ValueError:
            if not rows and not name:
                name = line.strip()
                continue
            raise ShapeError(
                f"coordinates line {count}",
                f"{line.strip()!r} was read.",
                "After the title every line holds two numbers, x and y.",
                "Correct or delete the line.",
            ) from None
        if len(numbers) != 2 or not np.isfinite(numbers).all():
            raise ShapeError(
                f"coordinates line {count}",
                f"{line.strip()!r} was read.",
                "Two finite numbers, x and y, are allowed.",
                "Correct or delete the line.",
            )
        rows.append((count, numbers[0], numbers[1]))
    return name, rows


def read_coordinates(text: str) -> Coordinates:
    """The section in a coordinate file's text.

    Form one: an optional title, then x y from the trailing edge round the nose and back (either
    way round). Form two: an optional title, a line with the two counts, then the upper side from
    nose to tail and the lower side from nose to tail; the counts may be missing when both blocks
    start at the nose. Blank lines and lines starting with # % ! are passed over.
    ShapeError naming the line, or saying what is missing (an empty text too).
    """
    name, rows = _rows(text)
    counts: tuple[int, int] | None = None
    if rows and min(rows[0][1:]) >= 2.0 and all(v == int(v) for v in rows[0][1:]):
        given = len(rows) - 1
        counts = (int(rows[0][1]), int(rows[0][2]))
        if sum(counts) != given:
            raise ShapeError(
                f"coordinates line {rows[0][0]}",
                f"{counts[0]} and {counts[1]} points are announced, {given} follow.",
                "The counts must be those of the upper and the lower block.",
                "Correct the counts or add the missing lines.",
            )
        rows = rows[1:]
    if len(rows) < 9:
        raise ShapeError(
            "coordinates",
            f"{len(rows)} points were read.",
            "At least 9 are needed, 5 on each side with the nose in common.",
            "Give a file with one point x y on a line.",
        )
    xy = np.array([r[1:] for r in rows], dtype=np.float64)
    middle = 0.5 * (xy[:, 0].min() + xy[:, 0].max())
    if counts is None and xy[0, 0] < middle:
        drops = np.flatnonzero(np.diff(xy[:, 0]) < 0.0)
        if len(drops) != 1:
            raise ShapeError(
                "coordinates",
                f"The points start at the nose and x falls {len(drops)} times.",
                "An upper and a lower block, each from nose to tail, are allowed.",
                "Put the points in order.",
            )
        counts = (int(drops[0]) + 1, len(xy) - int(drops[0]) - 1)
    if counts is not None:
        xy = _join_blocks(xy[: counts[0]], xy[counts[0] :])
    return Coordinates(_upper_first(xy), name)


def _join_blocks(upper: Array, lower: Array) -> Array:
    """One ring from two blocks that each run from the nose; a doubled nose point is dropped."""
    if np.abs(upper[0] - lower[0]).max() < 1e-12:
        lower = lower[1:]
    return np.concatenate([upper[::-1], lower])


def _upper_first(xy: Array) -> Array:
    """The ring so that it runs from the upper trailing edge: counter-clockwise."""
    x, y = xy[:, 0], xy[:, 1]
    area = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    return xy if area > 0.0 else xy[::-1]
