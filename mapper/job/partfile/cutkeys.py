"""The rows and keys of control surfaces: pieces of a wing's sections with a nose of their own."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from mapper.job.partfile.onekey import Key, Shape

_COUNTED = "Areas are those of the surface the sizes describe, one area for both faces"

_NOSE = (
    Key(
        "nose",
        "choice",
        "what closes it in front: an arc through both edges of the cut, or a flat front",
        choices=("round", "flat"),
        default="round",
    ),
    Key(
        "nose_radius",
        "length",
        "of a round nose, at the inboard end",
        above=0.0,
        default="half the height of the cut: a half circle",
    ),
    Key(
        "tip_nose_radius",
        "length",
        "of a round nose, at the outboard end",
        above=0.0,
        default="nose_radius",
    ),
    Key(
        "tip_from_chord",
        "percent",
        "where it is cut off at the outboard end, % chord of the wing",
        above=0.0,
        most=99.0,
        default="from_chord",
    ),
)
_SLAT = (
    Key(
        "lower_to_chord",
        "percent",
        "where its lower side ends, % chord of the wing (to_chord is where its upper one ends)",
        above=0.0,
        most=99.0,
        default="to_chord",
    ),
)


def _shape(words: str, keys: tuple[Key, ...]) -> Shape:
    return Shape(words, _COUNTED, sections=2, keys=keys, whole=True)


CONTROL_SURFACES: Mapping[str, Shape] = MappingProxyType(
    {
        "slat": _shape("the front of a wing's section, as a piece of its own", _SLAT),
        "flap": _shape("a flap cut from the wing's section, with a nose of its own", _NOSE),
        "aileron": _shape("an aileron cut from the wing's section, with its own nose", _NOSE),
        "elevator": _shape("an elevator cut from the tailplane's section", _NOSE),
        "rudder": _shape("a rudder cut from the fin's section", _NOSE),
        "tab": _shape("a tab cut from a section, as a flap is", _NOSE),
    }
)
