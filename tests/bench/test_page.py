"""Painting on the page: event to pixel, against an ordinary redraw of the same triangles.

WebGL by software on two cores: what a graphics card makes of it, and a real tablet, were not
measured. Both ways draw the same sheet at the same size in the same run of the browser.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser

from tests.viewer.conftest import chromium  # noqa: F401 (a fixture)
from tests.viewer.page.viewpage import serving

SIZES = {200_000: (400, 250), 1_000_000: (1000, 500)}
WIDTH, HEIGHT = 1280, 800
STEPS = 25


@pytest.fixture(scope="module")
def measured(
    chromium: Browser,  # noqa: F811 (the fixture above)
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[dict[tuple[int, int], dict[str, Any]]]:
    """By triangles and pixel ratio: our stroke and theirs, ms; picks, us."""
    found: dict[tuple[int, int], dict[str, Any]] = {}
    source = str(Path(__file__).with_name("page_bench.ts"))
    with serving(tmp_path_factory.mktemp("bench"), source) as address:
        for ratio in (1, 2):
            context = chromium.new_context(
                viewport={"width": 2 * WIDTH + 6, "height": HEIGHT}, device_scale_factor=ratio
            )
            context.set_default_timeout(300_000)
            page = context.new_page()
            page.goto(address)
            for triangles, (across, up) in SIZES.items():
                page.evaluate(
                    "([a, u, w, h]) => page.ours(a, u, w, h)", [across, up, WIDTH, HEIGHT]
                )
                page.evaluate("n => page.stroke(n)", 5)
                ours = page.evaluate("n => page.stroke(n)", STEPS)
                theirs = page.evaluate(
                    "([w, h, r, n]) => page.theirs(w, h, r, n)", [WIDTH, HEIGHT, ratio, 9]
                )
                assert ours["strokes"] == 2
                found[triangles, ratio] = {"ours": ours, "theirs": theirs}
                us, them = ours["median"], theirs["median"]
                print(
                    f"\n{triangles:,} triangles, pixel ratio {ratio}: event to pixel {us:.1f} ms"
                    f" (p95 {ours['p95']:.1f}), ordinary redraw {them:.1f} ms, {them / us:.1f}"
                    f" times; a pick {theirs['image']:.2f} us (tree {theirs['rays']:.2f} us);"
                    f" stored image {theirs['rest']:.0f} ms a rest (tree {theirs['tree']:.0f} ms)"
                )
            context.close()
    yield found


@pytest.mark.bench
@pytest.mark.parametrize("triangles", SIZES)
def test_a_stroke_is_six_times_quicker_than_an_ordinary_redraw(
    measured: dict[tuple[int, int], dict[str, Any]], triangles: int
) -> None:
    row = measured[triangles, 1]
    assert row["theirs"]["median"] >= 6 * row["ours"]["median"]


@pytest.mark.bench
def test_a_million_triangles_cost_a_stroke_no_more(
    measured: dict[tuple[int, int], dict[str, Any]],
) -> None:
    few, many = measured[200_000, 1]["ours"], measured[1_000_000, 1]["ours"]
    assert many["median"] <= 1.3 * few["median"]


@pytest.mark.bench
@pytest.mark.parametrize("triangles", SIZES)
def test_picks_are_no_slower_than_a_tree_of_boxes(
    measured: dict[tuple[int, int], dict[str, Any]], triangles: int
) -> None:
    row = measured[triangles, 1]["theirs"]
    assert row["image"] <= row["rays"]
    assert abs(row["hits"] - row["ours"]) <= 0.01 * max(row["hits"], 1)  # they meet the same metal
