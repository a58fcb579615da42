"""What wings, bodies and turned shapes have in common: t alone tells the station."""

from __future__ import annotations

from abc import ABC, abstractmethod

from numpy.typing import ArrayLike

from meshes.patch import Array


class Stationed(ABC):
    """A patch with domain low..high by 0..1 whose lines t = const are its lines of one station.

    chorded: places have a % chord and an upper (s >= 0) and a lower side.
    """

    low: float
    high: float
    chorded: bool
    datum: float

    @abstractmethod
    def t_at_station(self, station: ArrayLike) -> Array:
        """t (...) of stations (...) mm; outside 0..1 (or NaN) where the station is off the patch.

        Stations within a millionth of a mm of an end give that end exactly.
        """

    @abstractmethod
    def s_at_chord(self, t: ArrayLike, chord: ArrayLike, upper: ArrayLike) -> Array:
        """s (...) of % chord on the upper (True) or lower side at t; NaN where there is none."""
