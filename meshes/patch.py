"""The exact surface: a patch evaluates parameters (s, t) and says where its mesh lines are.

Every patch has the rectangle s0..s1 by t0..t1 as its domain. What is measured on a skin is measured
through these evaluators, never on the triangles alone, so a coarse mesh gives exact areas.
"""

from __future__ import annotations

from typing import Any, Protocol, runtime_checkable

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


@runtime_checkable
class Patch(Protocol):
    """One smooth (between its mesh lines) piece of a sheet.

    s_lines, t_lines: ascending parameter values that must be mesh lines (ends, kinks, breaks).
    kind: "plane", "cone" (cylinders too: every pair of end curves similar about one apex, or
    shifted) or "ruled"; "plane" and "cone" lie flat without any stretch.
    """

    @property
    def kind(self) -> str: ...

    @property
    def s_lines(self) -> Array: ...

    @property
    def t_lines(self) -> Array: ...

    def at(self, s: ArrayLike, t: ArrayLike) -> Array:
        """Points (..., 3) in mm at parameters s, t (broadcast together)."""
        ...

    def partials(self, s: ArrayLike, t: ArrayLike) -> tuple[Array, Array]:
        """dP/ds and dP/dt, each (..., 3); exact, not differences."""
        ...

    def outward(self, s: ArrayLike, t: ArrayLike) -> Array:
        """Unit normal (..., 3) on the side of the first face (outer, forward or outboard)."""
        ...

    def station(self, s: ArrayLike, t: ArrayLike) -> Array:
        """Distance (...) along the part's station axis from its datum, mm."""
        ...

    def chord(self, s: ArrayLike, t: ArrayLike) -> Array:
        """% chord (...), 0 leading to 100 trailing edge; NaN where the part has no chord."""
        ...

    def upper(self, s: ArrayLike, t: ArrayLike) -> NDArray[np.bool_]:
        """True (...) on the upper (or only) surface, False on the lower one."""
        ...

    def to_dict(self) -> dict[str, Any]:
        """A record with a "format" word and number from which `meshes.records` rebuilds the patch:
        words, numbers, lists, records and numpy arrays (kept as arrays, to the last bit)."""
        ...
