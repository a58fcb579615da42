"""The left-hand part: the same patch with y negated."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from meshes.patch import Array, Patch

FLIP = np.array([1.0, -1.0, 1.0])


@dataclass(frozen=True, eq=False)
class MirroredPatch:
    """`of` seen in a mirror at y = 0: same parameters, stations and % chord, y negated in space."""

    of: Patch

    @property
    def kind(self) -> str:
        return self.of.kind

    @property
    def s_lines(self) -> Array:
        return self.of.s_lines

    @property
    def t_lines(self) -> Array:
        return self.of.t_lines

    def at(self, s: ArrayLike, t: ArrayLike) -> Array:
        """Points (..., 3) mm at s, t (broadcast)."""
        return np.asarray(self.of.at(s, t) * FLIP)

    def partials(self, s: ArrayLike, t: ArrayLike) -> tuple[Array, Array]:
        """dP/ds and dP/dt (..., 3)."""
        by_s, by_t = self.of.partials(s, t)
        return by_s * FLIP, by_t * FLIP

    def outward(self, s: ArrayLike, t: ArrayLike) -> Array:
        """Unit normal (..., 3) on the side of the first face."""
        return np.asarray(self.of.outward(s, t) * FLIP)

    def station(self, s: ArrayLike, t: ArrayLike) -> Array:
        """Station (...) mm, as on the other side."""
        return self.of.station(s, t)

    def chord(self, s: ArrayLike, t: ArrayLike) -> Array:
        """% chord (...)."""
        return self.of.chord(s, t)

    def upper(self, s: ArrayLike, t: ArrayLike) -> NDArray[np.bool_]:
        """True (...) on the upper (or only) surface."""
        return self.of.upper(s, t)

    def to_dict(self) -> dict[str, Any]:
        """A record from which `meshes.records` rebuilds the patch."""
        return {"format": "mirrored patch/1", "of": self.of.to_dict()}


def unmirrored(patch: Patch) -> Patch:
    """The patch itself, or the right-hand one behind a mirrored one: parameters are the same."""
    return patch.of if isinstance(patch, MirroredPatch) else patch
