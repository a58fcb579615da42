"""The row and keys of a part without a useful flat map: its area is entered, not worked out."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from mapper.job.partfile.onekey import Key, Shape

# How such an area can be found, and the keys that each way needs.
FOUND: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "template": ("area",),
        "foil": ("foil_mass", "sample_mass", "sample_area"),
        "weight": ("mass", "density", "thickness"),
    }
)

_KEYS = (
    Key(
        "area",
        "number",
        "by templates: the whole surface, in square mm or square inches as the file's units are",
        above=0.0,
    ),
    Key("foil_mass", "number", "by foil: grams of foil that covered it once all over", above=0.0),
    Key("sample_mass", "number", "by foil: grams of a flat sample of the same foil", above=0.0),
    Key("sample_area", "number", "by foil: area of that sample, in square mm or inches", above=0.0),
    Key("mass", "number", "by weight: grams of the part", above=0.0),
    Key("density", "number", "by weight: grams per cubic centimetre", above=0.0, most=25.0),
    Key("thickness", "length", "by weight: mean thickness of its walls", above=0.0),
)

ENTERED: Mapping[str, Shape] = MappingProxyType(
    {
        "casting": Shape(
            "a small casting or fitting without a useful flat map: its area is entered",
            "The whole surface is counted as one face. Its map is a square of that area and shows"
            " shares of the surface, not places on it.",
            keys=_KEYS,
        )
    }
)
