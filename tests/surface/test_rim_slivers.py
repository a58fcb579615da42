"""A straight rim where the mesher has left triangles without height over the sides of others, as on
the web of the demonstration's rib."""

from __future__ import annotations

from pathlib import Path

import pytest

from mapper.job.partfile.build import build
from mapper.job.partfile.read import read
from mapper.surface.distance import between
from mapper.surface.intrinsic import net_of

RIB = Path(__file__).parents[2] / "demo" / "parts" / "rib_4.toml"


def test_ways_on_a_web_with_slivers_along_its_end_are_straight() -> None:
    """Plane geometry: no opening lies between the two places, so the way is the straight line."""
    (skin,) = build(read(RIB)).skins
    assert len(net_of(skin).vertex) < len(skin.triangles)  # the slivers are left out
    x = float(skin.flat[:, 0].max()) - 0.5
    assert between(skin, (x, 50.0), (x, 85.0)) == pytest.approx(35.0, abs=1e-6)
