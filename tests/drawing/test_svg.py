"""The SVG pen: well-formed, sized exactly, text as text or as outlines."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from shapely import Polygon

from mapper.drawing.flatmap import draw_map
from mapper.drawing.style import style
from mapper.drawing.svg import to_svg
from mapper.errors import MapperError
from tests.drawing.hand import SKIN, entry, multi

NS = "{http://www.w3.org/2000/svg}"


def size(root):
    return [float(root.get(k).removesuffix("mm")) for k in ("width", "height")]


@pytest.mark.parametrize("text", ["text", "paths"])
def test_it_is_xml_with_words_for_those_who_cannot_see(drawing, text):
    root = ET.fromstring(to_svg(drawing, text=text))
    assert root.tag == f"{NS}svg" and root.get("role") == "img"
    assert root.find(f"{NS}title").text == "Right wing"
    assert "finding" in root.find(f"{NS}desc").text
    assert (root.find(f".//{NS}text") is None) == (text == "paths")
    assert root.find(f".//{NS}pattern") is None
    # Units of the drawing are mm on paper.
    assert [float(v) for v in root.get("viewBox").split()[2:]] == size(root)


def test_full_size_is_exact(right):
    """A square of 300 x 200 mm on the sheet measures that on a tracing at 1:1."""
    square = np.array([[1000, 60], [1300, 60], [1300, 260], [1000, 260]], dtype=float)
    region = multi(Polygon(square))
    drawing = draw_map(right, SKIN, "outer", [entry(1, "masking", region)], scale=1.0)
    root = ET.fromstring(to_svg(drawing, scale=1.0))
    x0, y0, x1, y1 = drawing.bounds
    assert size(root) == pytest.approx([x1 - x0, y1 - y0], abs=1e-3)
    fill = style().token("masking").fill
    path = next(p for p in root.iter(f"{NS}path") if p.get("fill") == fill and p.get("fill-rule"))
    xy = np.array(re.findall(r"-?[\d.]+", path.get("d")), dtype=float).reshape(-1, 2)
    assert np.ptp(xy, axis=0) == pytest.approx([300.0, 200.0], abs=2e-3)


def test_width_sets_the_size_and_the_lines_with_it(drawing):
    small, big = (to_svg(drawing, width_mm=w) for w in (90.0, 180.0))
    assert size(ET.fromstring(small))[0] == pytest.approx(90.0)
    widths = [
        max(float(v) for v in re.findall(r'stroke-width="([\d.]+)"', svg)) for svg in (small, big)
    ]
    assert widths[1] / widths[0] == pytest.approx(2.0, rel=0.01)


def test_text_is_never_mirrored(left):
    svg = to_svg(draw_map(left, SKIN, "inner", []), text="text")
    assert "scale(" not in svg and "matrix(" not in svg


HOSTILE = ["<script>&\"'", "]]>", "$\\frac{1}{0}$", "\U0001f525\x00\x1b[31m", "‮reversed", "a\nb"]


@pytest.mark.parametrize("hostile", HOSTILE)
@pytest.mark.parametrize("text", ["text", "paths"])
def test_hostile_words(right, hostile, text):
    region = multi(right.openings[0].flat.buffer(50))
    one = entry(1, "finding", region)
    drawing = draw_map(right, SKIN, "outer", [one], title=hostile, numbers={one.id: hostile[:3]})
    root = ET.fromstring(to_svg(drawing, text=text, alternative=hostile))
    assert root.find(f".//{NS}script") is None
    assert "\x00" not in ET.tostring(root, encoding="unicode")


def test_layers_are_chosen(drawing):
    root = ET.fromstring(to_svg(drawing, layers={"sheet", "outline"}))
    assert {g.get("data-layer") for g in root.iter(f"{NS}g")} == {"sheet", "outline"}
    with pytest.raises(MapperError, match="Layers are"):
        to_svg(drawing, layers={"sky"})


@pytest.mark.parametrize(
    "wrong", [{"scale": 1.0, "width_mm": 5.0}, {"scale": -1.0}, {"width_mm": 0.0}, {"text": "png"}]
)
def test_contradictions_are_refused(drawing, wrong):
    with pytest.raises(MapperError):
        to_svg(drawing, **wrong)
