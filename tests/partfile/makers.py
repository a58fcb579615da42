"""The wing that the tests of part files are about, written out, and what is made of it."""

from __future__ import annotations

import pytest

from mapper.job.partfile.build import build
from mapper.job.partfile.mistakes import PartFileError
from mapper.job.partfile.read import read_text
from mapper.surface.geometry import Geometry

HEAD = """\
units = "mm"
part = "test wing"
shape = "loft"
{top}
[measured]
how = "tape"
tolerance = 2
[[section]]
station = 1000
chord = 1200
profile = "0012"
[[section]]
station = 3000
chord = 800
leading_edge_aft = 100
[stations]
datum = 1000
"""
SEAMS = """\
[[seam]]
name = "nose"
chord = 20
[[seam]]
name = "mid"
station = 2000
side = "upper"
from_chord = 20
to_chord = 100
"""
RIBS = """\
[[rib]]
name = "rib 1"
station = 1400
[[rib]]
name = "rib 2"
station = 2600
[[spar]]
name = "front spar"
chord = 25
"""
# A third section: the break in taper at 3000 mm, the outer piece twisted.
BREAK = "[[section]]\nstation = 4000\nchord = 500\ntwist = -2\nleading_edge_aft = 260\n"


def made(more: str = "", top: str = "") -> Geometry:
    return build(read_text(HEAD.format(top=top) + more), triangles=4000)


def late(more: str, top: str = "") -> tuple[str, str]:
    """(the line's text, the whole message) of a mistake that only the shape can tell."""
    text = HEAD.format(top=top) + more
    with pytest.raises(PartFileError) as caught:
        build(read_text(text), triangles=4000)
    (mistake,) = caught.value.mistakes
    return text.split("\n")[mistake.line - 1], mistake.text()
