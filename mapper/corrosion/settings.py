"""What a shop may change about how findings are counted, through its settings.

Keys: "corrosion.level" (cover of the intervals, 0.5 to 0.999), "corrosion.factor" (standard
deviations kept from a limit, 0 to 5), "corrosion.cell" (side of the equal cells, 20 to 2000 mm) and
"corrosion.width" (how far the smoothed map spreads a finding, 20 to 2000 mm).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

from mapper.corrosion.intervals import LEVEL
from mapper.corrosion.thickness import FACTOR
from mapper.errors import MapperError
from mapper.estimate.inputs import number

PREFIX = "corrosion."
CELL = 200.0  # mm; common practice, no source
WIDTH = 150.0  # mm; own choice, no source
_LIMITS = {
    "level": (0.5, 0.999, ""),
    "factor": (0.0, 5.0, ""),
    "cell": (20.0, 2000.0, "mm"),
    "width": (20.0, 2000.0, "mm"),
}


@dataclass(frozen=True)
class Counting:
    """The settings in force. words: what to print about them."""

    level: float = LEVEL
    factor: float = FACTOR
    cell: float = CELL
    width: float = WIDTH

    @property
    def words(self) -> tuple[str, ...]:
        """One sentence each, with its basis."""
        return (
            f"Intervals at {self.level * 100:g} %.",
            f"Compared with a limit at {self.factor:g} standard deviations "
            "(common practice, no source).",
            f"Equal cells of {self.cell:g} x {self.cell:g} mm on the flat map "
            "(common practice, no source).",
            f"The smoothed map spreads a finding over {self.width:g} mm (own choice, no source).",
        )


def counting_of(settings: Mapping[str, Any]) -> Counting:
    """The settings in force in a shop (`Shop.settings`); none: the defaults.

    MapperError for an unknown "corrosion." key or a value out of range.
    """
    given: dict[str, float] = {}
    for key, value in settings.items():
        if not str(key).startswith(PREFIX):
            continue
        name = str(key)[len(PREFIX) :]
        if name not in _LIMITS:
            close = get_close_matches(name, list(_LIMITS), n=1)
            raise MapperError(
                f"No setting {key!r}.",
                f"After {PREFIX!r} comes one of {', '.join(_LIMITS)}.",
                f"Did you mean {PREFIX + close[0]!r}?" if close else "",
            )
        least, most, unit = _LIMITS[name]
        given[name] = float(number(str(key), value, unit=unit, least=least, most=most))
    return Counting(**given)
