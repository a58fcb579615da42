"""The file of looks: every kind has its own hatch, and lines are dark enough to be seen."""

from __future__ import annotations

from itertools import combinations

import pytest

from mapper.drawing.style import STYLE_FILE, read_style, style
from mapper.errors import MapperError
from mapper.job.kinds import KINDS

AREAS = [kind.style for kind in KINDS.values() if "area" in kind.regions]


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it (section "relative luminance")."""
    linear = []
    for i in (1, 3, 5):
        c = int(colour[i : i + 2], 16) / 255
        linear.append(c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4)
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(a: str, b: str) -> float:
    high, low = sorted((luminance(a), luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_contrast_is_the_published_formula():
    # WCAG 2.2: black on white is 21:1; #767676 on white is the usual 4.54:1 example of its guides.
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


def test_every_kind_has_its_own_token():
    for kind in KINDS.values():
        assert kind.style in style().tokens, kind.name
        assert style().token(kind.style).hatch, kind.name


@pytest.mark.parametrize("name", [*AREAS, "not looked at"])
def test_lines_are_seen_on_paper(name):
    # WCAG 2.2, 1.4.11 Non-text contrast: 3:1 for what is needed to understand a picture.
    assert contrast(style().token(name).line, "#ffffff") >= 3.0


def test_text_is_read_on_paper():
    # WCAG 2.2, 1.4.3 Contrast (minimum): 4.5:1.
    for name in ("title", "quiet", "ink", "bar"):
        assert contrast(style().token(name).line, "#ffffff") >= 4.5


def signature(name):
    families = []
    for f in style().token(name).hatch:
        share = f.dash[0] / sum(f.dash) if f.dash else 1.0
        families.append((f.angle % 180, f.gap, share))
    return families


@pytest.mark.parametrize(("a", "b"), list(combinations([*AREAS, "not looked at"], 2)))
def test_hatches_differ_without_colour(a, b):
    """By number of families, by 15 degrees, by a third of the gap, or full against dashed."""
    one, other = signature(a), signature(b)
    if len(one) != len(other):
        return
    differs = False
    for (angle, gap, share), (angle2, gap2, share2) in zip(one, other, strict=True):
        apart = abs(angle - angle2)
        differs |= min(apart, 180 - apart) >= 15
        differs |= max(gap, gap2) / min(gap, gap2) >= 1.33
        differs |= abs(share - share2) >= 0.3
    assert differs


def test_bad_styles_are_refused():
    text = STYLE_FILE.read_text(encoding="utf-8")
    with pytest.raises(MapperError, match="#rrggbb"):
        read_style(text.replace("#b3170f", "red"))
    with pytest.raises(MapperError, match="Marks are"):
        read_style(text.replace('"mark": "cross"', '"mark": "star"'))
    with pytest.raises(MapperError, match="another format"):
        read_style(text.replace("map style 1", "map style 9"))
    with pytest.raises(MapperError, match="above 0"):
        read_style(text.replace('"gap": 1.7', '"gap": 0'))
    with pytest.raises(MapperError, match="JSON"):
        read_style(text[:200])
