"""Values that cannot have been are refused at recording; old entries that hold them are read."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
import shapely

from mapper.errors import MapperError
from mapper.job.entry import Entry, Place
from mapper.job.fields import Measured
from mapper.job.outlines import new_entry, outline_of
from mapper.job.plain import from_plain, to_plain
from mapper.job.sense import check_sense, panels_under
from mapper.surface.region import box
from mapper.units import Units
from tests.job.makers import NOON, entry
from tests.job.test_outlines import ready, wing

M, I = Units("metric"), Units("inch")  # noqa: E741
LATER = NOON + timedelta(minutes=20)


@pytest.mark.parametrize(
    ("kind", "values", "says"),
    [
        ("application", {"start": LATER, "stop": NOON}, "stop is 2026-05-31 12:00.*before the st"),
        ("masking", {"on": LATER, "off": NOON}, "off is .* before the on"),
        ("treatment", {"bare_since": LATER, "done_at": NOON}, "done at is .*before the bare s"),
        ("paint application", {"mixed_at": LATER, "start": NOON}, "start is .* before the pot"),
        ("application", {"mass_before": 2.0, "mass_after": 2.5}, "2.5 kg, more than .* 2 kg"),
        ("application", {"volume_before": 2.0, "volume_after": 2.5}, "more than the can before"),
        ("paint application", {"film_wet": Measured(40), "film_dry": Measured(60)}, "60 µm, more"),
        ("finding", {"gauge": Measured(0.8), "depth_found": Measured(0.9)}, "Record what=hole"),
        (
            "finding",
            {"gauge": Measured(0.8), "attempts": [{"depth_after": Measured(0.1)},
                                                  {"depth_after": Measured(1.0)}]},
            "depth after attempt 2 is 1 mm",
        ),
    ],
)  # fmt: skip
def test_what_cannot_have_been(kind: str, values: dict[str, Any], says: str) -> None:
    made = entry(kind, values=values)
    with pytest.raises(MapperError, match=says):
        check_sense(made, None, M)
    # An entry of old is read as it was written.
    assert from_plain(Entry, to_plain(made)).values == made.values


@pytest.mark.parametrize(
    ("kind", "values"),
    [
        ("application", {"start": NOON, "stop": NOON, "mass_before": 2.0, "mass_after": 2.0}),
        ("finding", {"what": "dent", "gauge": Measured(0.8), "depth_found": Measured(4.0)}),
        ("finding", {"what": "hole", "gauge": Measured(0.8), "depth_found": Measured(4.0)}),
        ("finding", {"gauge": Measured(0.8, 0.05), "depth_found": Measured(0.84)}),
        ("finding", {"depth_found": Measured(4.0)}),
        ("finding", {"length": 1e6}),
    ],
)
def test_what_can_have_been(kind: str, values: dict[str, Any]) -> None:
    check_sense(entry(kind, values=values), None, M)


def thin() -> Any:
    """The wing with .8 mm on the upper side and 1.2 mm below."""
    made = wing()
    gauges = {"upper": 0.8, "lower": 1.2}
    return replace(made, panels=tuple(replace(p, gauge=gauges[p.name]) for p in made.panels))


def test_depths_are_held_against_the_sheet_they_lie_on() -> None:
    geometry = thin()
    skin = geometry.skin("skin")
    on = {
        side: outline_of(
            geometry, "skin", "outer", box(skin, stations=(2000, 2100), chord=(20, 30), side=side)
        )
        for side in ("upper", "lower", "both")
    }
    deep = {"what": "corrosion", "depth_cleaned": Measured(1.0)}
    for side in ("lower", "both"):
        check_sense(entry(outline=on[side], values=deep), geometry, M)
    with pytest.raises(MapperError, match=r"after cleaning is 1 mm, and the sheet is 0\.8 mm"):
        check_sense(entry(outline=on["upper"], values=deep), geometry, M)
    # Depths in inches: 1 mm is .03937 in; the sheet measured there counts before the drawing's.
    measured = {**deep, "gauge": Measured(1.016, 0.02)}
    check_sense(entry(outline=on["upper"], values=measured), geometry, I)
    names = [p.name for p in panels_under(entry(outline=on["both"]), geometry)]
    assert names == ["upper", "lower"]
    # What stops at the seam, rounded to the grid, is not on the panel beyond it.
    for side in ("upper", "lower"):
        panel = next(p for p in geometry.panels if p.name == side)
        whole = outline_of(geometry, "skin", "outer", panel.flat)
        assert panels_under(entry(outline=whole), geometry) == (panel,)


def test_sizes_are_held_against_the_sheet() -> None:
    book, _ = ready()
    skin = wing().skin("skin")
    outline = outline_of(wing(), "skin", "outer", box(skin, stations=(2000, 2100), side="upper"))

    def record(**values: Any) -> None:
        kind = "application" if "left_area" in values else "finding"
        new_entry(book, "part-1", kind, outline=outline, values=values, when=NOON)

    record(length=4000.0)
    record(left_area=0.9 * outline.drawn_area)
    # 5 m by about 4 m laid flat: no scratch is 8 m long.
    with pytest.raises(MapperError, match=r"The length is 8000 mm.*from corner to corner"):
        record(length=8000.0)
    with pytest.raises(MapperError, match=r"area still coated is .*The whole region is"):
        record(left_area=1.2 * outline.drawn_area)


def test_a_place_in_words_has_no_sheet() -> None:
    made = entry(place=Place("somewhere"), values={"length": 9e5})
    check_sense(made, wing(), M)
    assert panels_under(made, wing()) == ()
    assert shapely.is_valid(wing().panels[0].flat)
