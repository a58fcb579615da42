"""`mapper show` and what is said about values: what remains of the sheet, one and several."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest

from mapper.job.entry import Entry, Place
from mapper.store.shop import open_shop
from tests.cli.test_record import id_in
from tests.cli.typed import fine, refused


def shown(which: str) -> str:
    return " ".join(fine(f"show {which}").split())


def test_what_a_depth_leaves_stands_with_its_limit(shop: Path) -> None:
    fine("change shop --set units=inch")
    first = id_in(
        fine(
            "add entry finding RW-01 --point '20 30' --side upper --set what=corrosion"
            " --set 'depth_cleaned=.005 +/- .001' --set 'gauge=.032 +/- .001'"
            " --set gauge_basis=measured --set limit=.024 --set limit_document='a manual'"
        )
    )
    # .032 - .005 = .027 in; +/- sqrt(2) x .001 = .0014 in; .003 clear of the limit is 4.2 standard
    # deviations of .00072, and 1.645 are asked for.
    says = "remaining 0.0270 ± 0.0014 in; limit 0.024 in: above the limit"
    assert says in shown(first[:8])
    assert "limit from a manual" in shown(first[:8])
    assert "licensed person's decision" in shown(first[:8])
    part = shown("RW-01")
    assert f"remaining {first[:8]} depth" in part and says in part
    # Seen again and deeper: both entries say what holds now.
    later = id_in(
        fine(
            f"add entry finding RW-01 --point '20 30' --side upper --set continues={first[:8]}"
            " --set what=corrosion --set 'depth_cleaned=.012 +/- .001'"
        )
    )
    for which in (first, later):
        assert "remaining 0.0200 ± 0.0014 in; limit 0.024 in: below the limit" in shown(which[:8])


def test_a_finding_without_a_depth_says_nothing_of_it(shop: Path) -> None:
    dent = id_in(fine("add entry finding RW-01 --place here --set what=dent --set depth_found=2"))
    bare = id_in(fine("add entry finding RW-01 --place here --set what=corrosion"))
    for which in (dent[:8], bare[:8], "RW-01"):
        assert "remaining" not in shown(which).replace("limit of remaining", "")


def test_a_scratch_takes_metal_off(shop: Path) -> None:
    line = "add entry finding RW-01 --point '500 30' --side upper --set what=scratch"
    which = id_in(fine(f"{line} --set depth_found=.1 --set gauge=.8"))
    assert "remaining 0.7 mm; limit none entered: no limit to compare with" in shown(which[:8])


def test_rates_are_set_and_shown_in_the_shops_units(shop: Path) -> None:
    fine("change shop --set units=inch")
    fine("setting estimate.apply 100")
    with open_shop(shop) as store:
        # 1 ft2 is .09290304 m2, exact.
        assert store.shop().settings["estimate.apply"] == pytest.approx(9.290304)
    assert "100 ft²/h (no range known): the shop's own figure" in fine("setting estimate.apply")
    fine("""setting estimate.apply '{"value": "10 m2/h", "low": 60, "high": 200}'""")
    assert "108 ft²/h (60 to 200)" in fine("setting")
    assert "Allowed: 0.1076 to 10760 ft²/h" in refused("setting estimate.apply 1e6")
    assert "no unit" in refused("setting estimate.apply '5 kg'")
    fine("setting estimate.apply --default")
    assert "common practice" in fine("setting estimate.apply")


def test_a_device_whose_clock_was_off_is_told(shop: Path) -> None:
    with open_shop(shop) as store:
        mira, job = store.people()[0], store.jobs()[0]
        part = store.book(job.id).parts[0]
        with store.act(mira, "dent", clock_offset_ms=15_120_000) as act:
            act.add(Entry("off", job.id, part.id, "finding", place=Place("rib 3")))
        with store.act(mira, "crack", clock_offset_ms=-59_000) as act:
            act.add(Entry("right", job.id, part.id, "finding", place=Place("rib 4")))
    assert "device's clock 4 h ahead when it was recorded" in shown("off")
    assert "clock" not in shown("right")
    told = list(csv.DictReader(io.StringIO(fine("history --csv"))))
    assert [row["clock"] for row in told][:2] == ["", "device's clock 4 h ahead"]
    assert "4 h ahead" in " ".join(fine("history").split())
    assert "clock" not in fine("history --limit 1")
