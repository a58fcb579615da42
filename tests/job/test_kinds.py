"""The table of kinds holds what an entry of each kind must be able to record."""

from __future__ import annotations

import pytest

from mapper.errors import MapperError
from mapper.job.fields import Field, Kind
from mapper.job.kinds import KINDS
from mapper.units import QUANTITIES

# The record's own specification, read off by hand: every kind, its regions, and its fields.
WANTED = {
    "finding": (
        "area line point place",
        "what corrosion length width depth_found depth_cleaned technique tool calibrated attempts "
        "gauge gauge_basis limit limit_document limit_page limit_revision blend_length blend_width "
        "blend_depth blend_convention disposition disposed_by licence basis disposed_on continues "
        "rivet_row_distance edge_distance rib_distance",
    ),
    "marking": ("area place", "marking text letter_height colour fate traced_outline"),
    "coat zone": ("area place", "finish_system coats lead_test chromate_test unknown"),
    "application": (
        "area place",
        "coats product lot start stop mass_before mass_after volume_before volume_after labour "
        "temperature left_area left_fraction waste_container",
    ),
    "blasting round": (
        "area place",
        "coats media grade pressure nozzle where trigger labour media_used left_area left_fraction "
        "waste_container",
    ),
    "masking": ("area line place", "protection on off"),
    "inspected area": (
        "area place",
        "technique kit light inspector qualification date result findings",
    ),
    "treatment": (
        "area place",
        "what product lot dilution attempts water_break bare_since done_at",
    ),
    "paint application": (
        "area place",
        "coat product lot mix mixed_at film_wet film_dry temperature humidity start stop quantity",
    ),
    "trial patch": (
        "area place",
        "method product area minutes volume_used mass_used result chosen",
    ),
    "reading": (
        "point place",
        "quantity film_thickness gauge hardness hardness_scale conductivity temperature "
        "other_value other_unit tool calibrated",
    ),
    "removed part": (
        "place point",
        "name number quantity from_words up_arrow outboard_arrow order first hardware condition "
        "tag_code where_now",
    ),
}


def test_the_twelve_kinds() -> None:
    assert list(KINDS) == list(WANTED)


@pytest.mark.parametrize("name", WANTED)
def test_each_kind_has_its_regions_and_fields(name: str) -> None:
    kind, (regions, names) = KINDS[name], WANTED[name]
    assert kind.name == name
    assert kind.regions == set(regions.split())
    assert [f.name for f in kind.fields] == names.split()


def every_field() -> list[tuple[str, Field]]:
    found = []
    for kind in KINDS.values():
        for f in kind.fields:
            found += [(f"{kind.name}, {f.name}", f)]
            found += [(f"{kind.name}, {f.name}, {g.name}", g) for g in f.of]
    return found


@pytest.mark.parametrize(("where", "f"), every_field(), ids=lambda v: v if type(v) is str else "")
def test_every_field_can_be_shown_and_asked_for(where: str, f: Field) -> None:
    assert f.label and f.help, where
    assert f.unit in QUANTITIES, where
    assert f.type in ("number", "measured") or not f.unit, where


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda k: k.name)
def test_style_is_the_name_with_hyphens_and_labels_are_its_own(kind: Kind) -> None:
    assert kind.style == kind.name.replace(" ", "-")
    labels = [f.label for f in kind.fields]
    assert len(set(labels)) == len(labels)
    assert kind.help and kind.plural != kind.name
    assert any(f.expected for f in kind.fields)


def test_only_if_words_are_choices_of_their_field() -> None:
    for kind in KINDS.values():
        for f in kind.fields:
            if len(f.only_if) > 1:
                leaned_on = kind.field(f.only_if[0])
                assert leaned_on is not None and set(f.only_if[1:]) <= set(leaned_on.choices)


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"name": "Depth found", "type": "text"}, "Small letters"),
        ({"name": "depth", "type": "length"}, "has the type 'length'"),
        ({"name": "depth", "type": "choice"}, "list of choices"),
        ({"name": "depth", "type": "text", "choices": ("a",)}, "list of choices"),
        ({"name": "depth", "type": "records"}, "fields of their own"),
        ({"name": "depth", "type": "reference", "refers_to": "hangar"}, "refers to one of"),
    ],
)
def test_a_mistake_in_the_table_is_refused(given: dict[str, object], says: str) -> None:
    with pytest.raises(MapperError, match=says):
        Field(label="depth", **given)  # type: ignore[arg-type]


def test_a_kind_with_a_mistake_is_refused() -> None:
    f = Field("depth", "depth", "number")
    with pytest.raises(MapperError, match="two fields"):
        Kind("x", "xs", "", frozenset({"area"}), (f, f), "x")
    with pytest.raises(MapperError, match="regions"):
        Kind("x", "xs", "", frozenset({"volume"}), (f,), "x")
    leaning = Field("gauge", "gauge", "number", unless=("width",))
    with pytest.raises(MapperError, match="leans on"):
        Kind("x", "xs", "", frozenset({"area"}), (leaning,), "x")
