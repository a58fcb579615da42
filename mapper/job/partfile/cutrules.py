"""What must hold between the keys of a control surface."""

from __future__ import annotations

from typing import Any

from mapper.job.partfile.check import Notes
from mapper.job.partfile.cutkeys import CONTROL_SURFACES

Row = dict[str, Any]
Span = tuple[float, float]


def own_span(values: Row, span: Span | None) -> Span | None:
    """The stations of a control surface between those of its wing; another part's span as it is."""
    if span is None or values.get("shape") not in CONTROL_SURFACES:
        return span
    low = float(values.get("from_station", span[0]))
    high = float(values.get("to_station", span[1]))
    return (low, high) if low < high else span


def check_control(values: Row, notes: Notes) -> None:
    """Note a cut that is not said, and a slat or flat nose with what it cannot have."""
    shape = values.get("shape")
    if shape not in CONTROL_SURFACES or notes.bad(("from_chord",), ("to_chord",)):
        return
    start = values.get("from_chord", 0.0)
    if shape == "slat":
        if start != 0.0:
            notes.mistake(
                ("from_chord",),
                f"{start:g} % chord was given;",
                "a slat begins at the leading edge: 0 is allowed.",
                "Take it out; to_chord says where its upper side ends.",
            )
        if values.get("to_chord", 100.0) == 100.0:
            notes.mistake(
                ("to_chord",),
                "it is missing, or the whole chord;",
                "the % chord of the wing where the slat's upper side ends is needed.",
            )
        return
    if start == 0.0:
        notes.mistake(
            ("from_chord",),
            "it is missing, or 0;",
            f"the % chord of the wing where {_a(str(shape))} is cut off is needed.",
            "Measure it at the inboard end; tip_from_chord says it for the outboard end.",
        )
    for key in ("nose_radius", "tip_nose_radius"):
        if values.get("nose") == "flat" and key in values:
            notes.mistake(
                (key,), "a flat nose has none;", 'it is for nose = "round".', "Take one out."
            )


def _a(word: str) -> str:
    return f"{'an' if word[0] in 'aeiou' else 'a'} {word}"
