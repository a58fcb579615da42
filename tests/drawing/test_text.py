"""Hostile texts are drawn as something a reader sees, and never as maths."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mapper.drawing.text import fit, outline_of, visible, width_of, wrap


@pytest.mark.parametrize(
    ("given_text", "seen"),
    [
        ("rib 7", "rib 7"),
        ("", ""),
        ("pit \U0001f600", "pit [U+1F600]"),
        ("bell\x07", "bell[U+0007]"),
        ("turned\u202eover", "turned[U+202E]over"),
        ("two\nlines\tand a tab", "two lines and a tab"),
        ("漢", "[U+6F22]"),
        ("\ud800", "[U+D800]"),
        ("µm m² Ø 45° – ½", "µm m² Ø 45° – ½"),
    ],
)
def test_visible(given_text, seen):
    assert visible(given_text) == seen


@given(st.text(max_size=40))
def test_any_text_is_drawn(text):
    path = outline_of(text, 3.0)
    assert np.isfinite(path.vertices).all()
    assert width_of(text, 3.0) >= 0
    assert visible(visible(text)) == visible(text)


def test_dollars_are_not_maths():
    plain, dollars = width_of("x", 10.0), width_of("$x$", 10.0)
    assert dollars == pytest.approx(plain + 2 * width_of("$", 10.0), rel=0.02)
    assert len(outline_of(r"$\frac{1}{2}$", 10.0).vertices) > 0


def test_outline_is_centred_and_as_wide_as_said():
    path = outline_of("HHHH", 10.0)
    low, high = path.vertices.min(axis=0), path.vertices.max(axis=0)
    assert high[0] - low[0] == pytest.approx(width_of("HHHH", 10.0), rel=0.06)
    assert low[1] == pytest.approx(-high[1], abs=0.05)


def test_fit_and_wrap():
    assert fit("short", 3.0, 100.0) == "short"
    cut = fit("a very long panel name indeed", 3.0, 20.0)
    assert cut.endswith("…") and width_of(cut, 3.0) <= 20.0
    assert fit("anything", 3.0, 0.5) == ""
    lines = wrap("upper inboard skin between the spars", 3.0, 30.0)
    assert len(lines) > 1 and all(width_of(line, 3.0) <= 30.0 for line in lines)
    assert wrap("", 3.0, 30.0) == []
