"""Painting on the page: event to pixel, against an ordinary redraw of the same triangles.

WebGL by software on two cores: what a graphics card makes of it, and a real tablet, were not
measured. Both ways draw the same sheet at the same size in the same run of the browser.
"""

from __future__ import annotations

import statistics
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser

from tests.viewer.conftest import chromium  # noqa: F401 (a fixture)
from tests.viewer.page.viewpage import serving

SIZES = {200_000: (400, 250), 1_000_000: (1000, 500)}
WIDTH, HEIGHT = 1280, 800
ROUNDS, STEPS = 3, 12

Row = dict[str, Any]


@pytest.fixture(scope="module")
def measured(
    chromium: Browser,  # noqa: F811 (the fixture above)
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[dict[tuple[int, int], Row]]:
    """By triangles and pixel ratio: medians of event to pixel, ms; picks, us.

    Both ways and both sizes take turns, so that whatever else the machine does meets all alike.
    """
    found: dict[tuple[int, int], Row] = {}
    source = str(Path(__file__).with_name("page_bench.ts"))
    with serving(tmp_path_factory.mktemp("bench"), source) as address:
        for ratio in (1, 2):
            context = chromium.new_context(
                viewport={"width": 2 * WIDTH + 6, "height": HEIGHT}, device_scale_factor=ratio
            )
            context.set_default_timeout(300_000)
            page = context.new_page()
            page.goto(address)
            for across, up in SIZES.values():
                size = [across, up, WIDTH, HEIGHT]
                page.evaluate("([a, u, w, h]) => page.prepare(a, u, w, h)", size)
            times: dict[tuple[int, bool, str], list[float]] = {}
            for turn in range(-1, ROUNDS):
                for number, triangles in enumerate(SIZES):
                    for shown in (False, True):
                        if shown and turn > 1:
                            continue  # told, not decided by
                        asked = [number, STEPS, shown]
                        got = page.evaluate("([i, n, s]) => page.round(i, n, s)", asked)
                        for who, values in got.items():
                            if turn >= 0:  # the first turn only warms up
                                times.setdefault((triangles, shown, who), []).extend(values)
            for number, triangles in enumerate(SIZES):
                row = page.evaluate("i => page.picks(i)", number)
                for shown in (False, True):
                    for who in ("ours", "theirs"):
                        name = f"{who} shown" if shown else who
                        row[f"{name} ms"] = statistics.median(times[triangles, shown, who])
                found[triangles, ratio] = row
                us, them = row["ours ms"], row["theirs ms"]
                seen = row["ours shown ms"], row["theirs shown ms"]
                print(
                    f"\n{triangles:,} triangles, pixel ratio {ratio}: event to pixel {us:.1f} ms,"
                    f" ordinary redraw {them:.1f} ms, {them / us:.1f} times; with a frame of the"
                    f" screen by software after each {seen[0]:.0f} and {seen[1]:.0f} ms; a pick"
                    f" {row['image']:.2f} us, tree {row['rays']:.2f} us; stored image"
                    f" {row['rest']:.0f} ms a rest of the camera, tree {row['tree']:.0f} ms once"
                )
            context.close()
    yield found


@pytest.mark.bench
@pytest.mark.parametrize("triangles", SIZES)
def test_a_stroke_is_six_times_quicker_than_an_ordinary_redraw(
    measured: dict[tuple[int, int], Row], triangles: int
) -> None:
    row = measured[triangles, 1]
    assert row["theirs ms"] >= 6 * row["ours ms"]


@pytest.mark.bench
def test_a_million_triangles_cost_a_stroke_no_more(measured: dict[tuple[int, int], Row]) -> None:
    assert measured[1_000_000, 1]["ours ms"] <= 1.3 * measured[200_000, 1]["ours ms"]


@pytest.mark.bench
@pytest.mark.parametrize("triangles", SIZES)
def test_picks_are_no_slower_than_a_tree_of_boxes(
    measured: dict[tuple[int, int], Row], triangles: int
) -> None:
    row = measured[triangles, 1]
    assert row["image"] <= row["rays"]
    assert abs(row["hits"] - row["ours"]) <= 0.01 * max(row["hits"], 1)  # they meet the same metal
