"""What must hold between the keys of a wing with a curved planform."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

from mapper.job.partfile.check import Notes
from mapper.job.partfile.curvedkeys import CURVED
from mapper.job.partfile.lofted import profile_mistake
from mapper.job.partfile.values import shown

Row = dict[str, Any]

_ELLIPSE = ("root_chord", "semi_span", "to_station")
_ORDINATES = ("chords", "leading_edges")


def check_curved(values: Row, notes: Notes) -> None:
    """Note a planform not whole, or with what it cannot have; ordinates out of order; profiles."""
    if values.get("shape") not in CURVED:
        return
    for key in ("profile", "tip_profile"):
        code = values.get(key)
        wrong = None if code is None else profile_mistake(code)
        if wrong:
            notes.mistake((key,), f"{shown(code)} was given;", *wrong)
    form = values.get("planform")
    if form is None:
        return
    needed, others = (_ELLIPSE, _ORDINATES) if form == "ellipse" else (_ORDINATES, _ELLIPSE)
    for key in needed:
        if key not in values and not notes.bad((key,)):
            notes.mistake((key,), "it is missing;", f"a planform by {form} needs it.")
    for key in (*others, *(() if form == "ellipse" else ("straight_chord",))):
        if key in values:
            words = " and ".join(needed)
            notes.mistake((key,), f"a planform by {form} has none;", f"{words} are allowed.")
    if form == "ordinates":
        _check_ordinates(values, notes)


def _check_ordinates(values: Row, notes: Notes) -> None:
    start = float((values.get("stations") or {}).get("datum", 0.0))
    ends = []
    for key in _ORDINATES:
        points = values.get(key)
        if points is None:
            continue
        stations = [point[0] for point in points]
        ends.append(stations[-1])
        if any(b <= a for a, b in pairwise(stations)):
            notes.mistake(
                (key,),
                "the stations do not grow from point to point;",
                "points in order from inboard to outboard are allowed.",
            )
        elif stations[0] != start:
            notes.mistake(
                (key,),
                "the first point does not lie at the part's own zero;",
                "the station that [stations] datum says is needed there.",
                "Set the datum to the station of the first point.",
            )
    if len(ends) == 2 and ends[0] != ends[1] and not notes.bad(*((k,) for k in _ORDINATES)):
        notes.mistake(
            ("leading_edges",),
            "chords and leading edges end at different stations;",
            "one end for both is allowed.",
            "Measure the last point of both at the outboard end.",
        )
    for point in values.get("chords", ()):
        if point[1] <= 0.0:
            notes.mistake(
                ("chords",), "a chord is not above 0;", "more than 0 is allowed everywhere."
            )
            break
