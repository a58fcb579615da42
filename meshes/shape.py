"""What a shape's constructor hands over: sheets of patches, joined along their edges."""

from __future__ import annotations

from dataclasses import dataclass

from meshes.patch import Array, Patch


@dataclass(frozen=True)
class Join:
    """Two patch edges ("s0", "s1", "t0", "t1") that are one line on the part.

    Both run in the same direction of the shared parameter; points of equal parameter coincide.
    """

    patch_a: int
    edge_a: str
    patch_b: int
    edge_b: str


@dataclass(frozen=True, eq=False)
class Sheet:
    """One continuous surface of a shape before it becomes a skin.

    face_names: the first is the side the patches' `outward` normal points to.
    outline (K, 2): for a single plane patch its outline in the plane's own mm, a closed ring
    (first point not repeated), counter-clockwise, dense where it is curved. holes: rings of holes
    in it (lightening holes), which the part's geometry takes off as openings.
    """

    name: str
    face_names: tuple[str, ...]
    patches: tuple[Patch, ...]
    joins: tuple[Join, ...] = ()
    outline: Array | None = None
    holes: tuple[Array, ...] = ()
