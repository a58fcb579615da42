"""Cautions stand beside the work they belong to, each with a source; advice never lets thin sheet
be blasted."""

from __future__ import annotations

import pytest
from shapely import MultiPolygon

from mapper.estimate.advice import BLASTING, advise, warnings_of
from mapper.estimate.cautions import CAUTIONS, METHODS, cautions_for, metal_of
from mapper.job.kinds import KINDS
from mapper.surface.geometry import Panel


def panel(alloy: str = "2024-T3", gauge: float | None = 2.0, thin: bool = False) -> Panel:
    return Panel("p", "s", MultiPolygon(), alloy=alloy, gauge=gauge, thin=thin)


@pytest.mark.parametrize("key", list(CAUTIONS))
def test_every_caution_has_a_text_and_a_source(key: str) -> None:
    caution = CAUTIONS[key]
    assert caution.key == key
    assert caution.text.endswith(".")
    assert caution.source


@pytest.mark.parametrize("method", ["", *METHODS])
def test_local_codes_and_makers_sheet_come_first(method: str) -> None:
    first = cautions_for(method=method)[0].text
    assert "Local codes" in first
    assert "data sheet" in first
    assert "licensed practice" in first


@pytest.mark.parametrize("kind", list(KINDS))
def test_every_kind_of_entry_is_answered_without_repeats(kind: str) -> None:
    keys = [c.key for c in cautions_for(kind=kind, method="chemical", panel=panel())]
    assert len(keys) == len(set(keys))


def test_cautions_of_a_panel() -> None:
    def keys(**more: object) -> set[str]:
        return {c.key for c in cautions_for(**more)}  # type: ignore[arg-type]

    assert "thin" in keys(panel=panel(thin=True))
    # FAA AC 43.13-1B ch. 6: sheet under .0625 in; TM 1-1500-344-23-2: .032 in or more.
    assert "under .0625" in keys(panel=panel(gauge=0.062 * 25.4))
    assert "under .0625" not in keys(panel=panel(gauge=0.0625 * 25.4))
    assert "plastic media" in keys(panel=panel(gauge=0.0319 * 25.4))
    assert "plastic media" not in keys(panel=panel(gauge=0.032 * 25.4))
    assert "under .0625" in keys(panel=panel(gauge=None))
    assert "steel and acid" in keys(panel=panel("4130 steel"))
    assert "sand is for steel" not in keys(panel=panel("4130 steel"))
    assert "bearings" in keys(bearings_inside=True)
    assert "balance" in keys(control_surface=True)
    assert "rinse water" in keys(method="chemical")


def test_nothing_is_said_to_be_allowed_down_the_drain_or_acceptable() -> None:
    for caution in CAUTIONS.values():
        words = caution.text.casefold()
        assert "drain" not in words
        assert "acceptable" not in words


@pytest.mark.parametrize(
    ("words", "metal"),
    [
        ("2024-T3", "aluminium"),
        ("6061", "aluminium"),
        ("2024-T3 alclad", "aluminium"),
        ("4130 tube", "steel"),
        ("AISI 4130", "steel"),
        ("stainless", "steel"),
        ("AZ31B", "magnesium"),
        ("", ""),
        ("birch ply", ""),
    ],
)
def test_metal(words: str, metal: str) -> None:
    assert metal_of(words) == metal


def test_thin_sheet_is_never_blasted_whatever_it_is_made_of() -> None:
    for alloy in ("2024-T3", "4130 steel", ""):
        advice = advise(panel(alloy, 3.0, thin=True))
        assert advice.method == "chemical"
        assert set(advice.never) == set(BLASTING)
        assert advice.open_to == ()


def test_sand_is_for_steel_only() -> None:
    assert "sand" in advise(panel("4130 steel")).open_to
    for alloy in ("2024-T3", "AZ31B", ""):
        assert "sand" in advise(panel(alloy)).never


def test_advice_by_gauge() -> None:
    # TM 1-1500-344-23-2: plastic media on .032 in or more only.
    assert "plastic media" in advise(panel(gauge=0.031 * 25.4)).never
    assert "plastic media" in advise(panel(gauge=0.032 * 25.4)).open_to
    assert "engineering approval" in advise(panel(gauge=1.0)).words
    assert "engineering approval" not in advise(panel(gauge=2.0)).words
    unknown = advise(panel(gauge=None))
    assert set(unknown.never) == set(BLASTING)
    assert "measured" in unknown.words
    assert advise(None).method == "chemical"


@pytest.mark.parametrize(
    ("method", "alloy", "gauge", "thin", "out", "says"),
    [
        ("sand", "2024-T3", 0.8, False, True, "Sand is for steel only"),
        ("sand", "2024-T3", 0.8, False, True, "cut, heat"),
        ("sand", "4130 steel", 0.8, False, False, ""),
        # AC 43.13-1B ch. 6: glass bead on aluminium only where directed, at 30-45 psi.
        ("glass bead", "2024-T3", 2.0, False, False, "only where directed"),
        # TM 1-1500-344-23-2: plastic media on .032 in or more.
        ("plastic media", "2024-T3", 0.031 * 25.4, False, True, "under .81 mm (.032 in)"),
        ("plastic media", "2024-T3", 0.070 * 25.4, False, False, ""),
        # AC 43.13-1B ch. 6: engineering approval under .0625 in.
        ("plastic media", "2024-T3", 0.040 * 25.4, False, False, "engineering approval"),
        ("plastic media", "4130 steel", 3.0, True, True, "never blasted"),
        ("other: walnut shell", "2024-T3", 3.0, True, True, "never blasted"),
        ("media not stated", "2024-T3", None, False, True, "gauge is not recorded"),
        ("other: walnut shell", "2024-T3", 2.0, False, False, ""),
        ("chemical", "2024-T3", 0.4, True, False, ""),
        ("hand abrasive", "2024-T3", 0.4, True, False, ""),
    ],
)
def test_media_on_a_sheet_meet_their_rules(
    method: str, alloy: str, gauge: float | None, thin: bool, out: bool, says: str
) -> None:
    found, cautions = warnings_of(method, panel(alloy, gauge, thin=thin))
    assert found is out
    assert says in " ".join(c.text for c in cautions)
    assert bool(cautions) == bool(says)
    assert all(c.source for c in cautions)


def test_advice_names_no_number_in_one_system_only() -> None:
    assert "mm" not in advise(panel(gauge=0.5)).words.replace(".81 mm (.032 in)", "").replace(
        "1.59 mm (.0625 in)", ""
    )
