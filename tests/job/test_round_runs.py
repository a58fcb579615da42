"""Lines from place to place on closed bodies: helices on a cylinder, arcs of a sphere."""

from __future__ import annotations

import math

import numpy as np
import pytest

from mapper.errors import MapperError
from mapper.job.runs import run_of
from mapper.surface.build import make_skin
from mapper.surface.measure import length
from mapper.surface.place import place_of
from meshes.body import body
from meshes.rings import EllipseRing
from meshes.turned import turned
from meshes.turnprofile import FormProfile


def test_a_line_on_a_cylinder_is_a_helix_over_the_top_and_over_the_cut() -> None:
    skin = make_skin(body([EllipseRing(0, 400, 400), EllipseRing(1000, 400, 400)])[0])
    for start, end in ((350.0, 370.0), (150.0, 210.0), (90.0, 90.0), (40.0, 40.0 + 360.0)):
        line = run_of(skin, [(100.0, start), (900.0, end)], True)
        wanted = math.hypot(800.0, math.radians(end - start) * 200.0)
        assert length(skin, line) == pytest.approx(wanted, rel=1e-5), (start, end)


def test_a_line_on_a_sphere_crosses_gores() -> None:
    skin = make_skin(turned(FormProfile("ellipse", 500.0, 500.0), gores=8)[0])
    line = run_of(skin, [(250.0, 80.0), (250.0, 200.0)], True)
    assert len(line.geoms) == 4
    radius = math.sqrt(500.0**2 - 250.0**2)
    assert length(skin, line) == pytest.approx(math.radians(120.0) * radius, rel=1e-4)
    for piece in line.geoms:
        at = place_of(skin, np.array(piece.coords))
        assert at.station == pytest.approx(250.0, abs=0.05)


def test_a_place_off_the_body_is_refused() -> None:
    skin = make_skin(body([EllipseRing(0, 400, 400), EllipseRing(1000, 400, 400)])[0])
    with pytest.raises(MapperError):
        run_of(skin, [(100.0, 30.0), (1100.0, 30.0)], True)
