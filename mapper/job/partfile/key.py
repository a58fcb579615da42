"""The table of shapes: the rows that keys, checks and documents are made from."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from mapper.job.partfile.bodykeys import BODIES
from mapper.job.partfile.curvedkeys import CURVED
from mapper.job.partfile.cutkeys import CONTROL_SURFACES
from mapper.job.partfile.enteredkeys import ENTERED
from mapper.job.partfile.fittingkeys import FITTINGS
from mapper.job.partfile.meshkeys import MESHES
from mapper.job.partfile.onekey import FORMS, SIDES, Key, Shape

__all__ = ["FORMS", "SHAPES", "SIDES", "Key", "Shape"]

_WEB = "The web alone is counted, on each of its two faces; flanges are not."
_SURFACE = "Areas are those of the surface the sizes describe, one area for both faces"
_FLAT = "One area is given for each of the two faces; edges are not counted."

SHAPES: Mapping[str, Shape] = MappingProxyType(
    {
        "loft": Shape(
            "a wing, tail or control surface by its own sections, joined by straight lines",
            _SURFACE,
            sections=2,
            whole=True,
        ),
        "rib": Shape("one rib: a flat web with the outline of a section", _WEB, sections=1),
        "spar web": Shape(
            "the flat web of one spar, between the upper and lower skin of a loft",
            _WEB,
            sections=2,
        ),
        "plate": Shape("one flat piece: end plate, gusset, doubler", _FLAT),
        "tube": Shape(
            "a round tube or cone: push-pull tube, torque tube, duct",
            "The round surface alone is counted; ends and end fittings are not.",
            axis="length",
            keys=(
                Key(
                    "end_diameter",
                    "length",
                    "outside, at the far end of a cone",
                    above=0.0,
                    default="diameter",
                ),
            ),
        ),
        "access cover": Shape("a cover: flat, or cut from the skin of a loft", _FLAT, sections=2),
        **CONTROL_SURFACES,
        **CURVED,
        **BODIES,
        **FITTINGS,
        **ENTERED,
        **MESHES,
    }
)
