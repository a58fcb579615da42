"""How far the flat map is from the true shape, in numbers and words."""

from __future__ import annotations

import numpy as np
import pytest

from mapper.surface.stretch import _percent, _words, worst_stretch
from tests.surface.examples import pipe, sheet, tapered, twisted
from tests.surface.handmade import GridMap, NosePatch, _grid, _skin


@pytest.mark.parametrize("make", [tapered, pipe, sheet])
def test_what_unrolls_has_none(make):
    found = worst_stretch(make())
    assert (found.area_percent, found.length_percent) == (0.0, 0.0)
    assert np.isnan(found.station)
    assert found.words == "lies flat without stretch"


def test_a_map_drawn_too_large_by_one_percent_along_the_span():
    """A sheet that lies flat, its map 1 % too long outboard: 1 % in length and in area."""
    patch = NosePatch(chord_root=1000, chord_tip=1000, twist=0.0, thick=(1e-9, 1e-9), span=3000)
    s, t = np.linspace(0, 1, 9), np.linspace(0, 1, 7)
    ss, tt = np.meshgrid(s, t, indexing="ij")
    values = np.stack([1.01 * 3000 * tt, 1000 * ss**2], axis=-1)
    flat_map = GridMap(s, t, values)
    rim = np.concatenate([values[0, :-1], values[:-1, -1], values[-1, :0:-1], values[:0:-1, 0]])
    found = worst_stretch(_skin("p", patch, flat_map, rim, *_grid(patch, s, t, flat_map.to_flat)))
    assert found.area_percent == pytest.approx(1.0, rel=1e-6)
    assert found.length_percent == pytest.approx(1.0, rel=1e-6)
    assert found.words.startswith("at most 1.0 % in area, 1.0 % in length, worst at station ")


def test_twisted_wing_has_little_and_says_where():
    skin = twisted()
    found = worst_stretch(skin)
    assert 0.0 < found.area_percent < 1.5
    assert 0.0 < found.length_percent < 1.5
    assert skin.station.min() <= found.station <= skin.station.max()
    assert f"{found.station:,.0f} mm" in found.words


def test_words_never_understate():
    assert _percent(0.0201) == "0.021 %"
    assert _percent(0.02) == "0.020 %"
    assert _percent(12.31) == "13 %"
    assert _percent(0.0) == "0 %"
    assert _words(1e-5, 1e-4, 4.0) == "lies flat with less than 0.001 % of stretch"
    assert _words(0.02, 0.01, 4200.0) == (
        "at most 0.020 % in area, 0.010 % in length, worst at station 4,200 mm"
    )
