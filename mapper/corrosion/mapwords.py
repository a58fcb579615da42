"""What a smoothed map of findings says, in words: the same under a figure, on a screen, in a file.

Nothing here decides or computes anything; numbers come from `smoothed`.
"""

from __future__ import annotations

from mapper.corrosion.bands import Band
from mapper.corrosion.smoothed import AREA, LEAST_SEEN, Smoothed
from mapper.units import Units, rounded

UNSEEN = "not looked at, or too little about it"


def rate(value: float, by: str, units: Units) -> str:
    """A value with its unit: "42 /m²" or "3 %"."""
    if by == AREA:
        return f"{rounded(value, digits=2)} %" if value else "0 %"
    return units.show(value, "1/m2") if value else f"0 {units.label('1/m2')}"


def step(band: Band, by: str, units: Units) -> str:
    """A step of the legend: "below 11 /m²", "11 /m² to 56 /m²", "131 /m² or more"."""
    if band.high is None:
        return f"{rate(band.low, by, units)} or more"
    if not band.low:
        return f"below {rate(band.high, by, units)}"
    return f"{rate(band.low, by, units)} to {rate(band.high, by, units)}"


def subject(smoothed: Smoothed) -> str:
    """What is mapped: "findings per area looked at", "corrosion, % of the area looked at"."""
    what = smoothed.what or "findings"
    return f"{what}, % of area looked at" if smoothed.by == AREA else f"{what} per area looked at"


def heading(smoothed: Smoothed, units: Units) -> str:
    """What is mapped, and how far findings are spread."""
    return f"{subject(smoothed)}, spread over {units.show(smoothed.width, 'mm')}"


def sentences(smoothed: Smoothed, units: Units) -> tuple[str, ...]:
    """All that a reader must know beside one map."""
    if smoothed.mean is None:
        return told(smoothed, units)
    return (*told(smoothed, units), *how(smoothed, units))


def told(smoothed: Smoothed, units: Units) -> tuple[str, ...]:
    """What this map alone says: what it counts, its mean and its highest place, what it leaves
    out."""
    s = smoothed
    if s.mean is None:
        return ("Nobody has looked at this face: there is nothing to map.", *_left_out(s))
    seen = units.show(s.inspected_mm2, "mm2")
    counts = (
        "Share of the area looked at that is outlined as affected"
        if s.by == AREA
        else "Findings per area looked at, each counted once"
    )
    found = "finding" if s.findings == 1 else "findings"
    lines = [
        f"{counts}: {s.findings} {found} in {seen}, {rate(s.mean, s.by, units)} in the mean"
        + (f", {rate(s.peak[0], s.by, units)} at the highest place." if s.peak else ".")
    ]
    if s.by != AREA:
        lines.append(f"One place weighs as much as counting on {units.show(s.weighs_mm2, 'mm2')}.")
        if len(s.bands) < 2:
            lines.append("No place is told from another: all of it lies in one step.")
    return (*lines, *_left_out(s))


def how(smoothed: Smoothed, units: Units) -> tuple[str, ...]:
    """How such a map is made and read: the same for all maps of one width and sort."""
    lines = [
        f"Each finding is spread along the sheet with a width of "
        f"{units.show(smoothed.width, 'mm')} (39 % of it lies within one width, 86 % within two): "
        "round the nose, never through the sheet, nor over a trailing edge, another edge or an "
        "opening.",
        f"Hatched as not looked at: where nobody looked, or less than {100 * LEAST_SEEN:g} % of "
        "what lies about a place was looked at. It never means that nothing is there.",
    ]
    if smoothed.by != AREA:
        lines.append(
            f"Steps are as wide as chance is: the {100 * smoothed.level:g} % exact intervals of "
            "their middles do not overlap, so places in one step, or either side of a border, are "
            "not shown to differ. It takes findings as independent of each other; beside an edge a "
            "place weighs half as much."
        )
    return tuple(lines)


def _left_out(s: Smoothed) -> tuple[str, ...]:
    lines = []
    if s.outside:
        were = "finding lies" if s.outside == 1 else "findings lie"
        lines.append(f"{s.outside} {were} outside every inspected area and in no value.")
    if s.by == AREA and s.flat:
        were = "finding is" if s.flat == 1 else "findings are"
        lines.append(f"{s.flat} {were} drawn as points or lines: no area is known of them.")
    return tuple(lines)
