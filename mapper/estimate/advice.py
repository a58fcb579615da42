"""Which method a panel asks for, in its first honest form: what rules a method out, and why.

Thin or delicate sheet is stripped chemically and never blasted; sand is for steel only. Nothing
here approves a method: blasting always needs what the words say.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from mapper.estimate.cautions import AC, CAUTIONS, PRACTICE, THIN, Caution, metal_of
from mapper.estimate.methods import BLASTING, ROWS
from mapper.job.kinds.shared import METHODS
from mapper.surface.geometry import Panel


@dataclass(frozen=True)
class Advice:
    """method: the one an estimate is made for. open_to, never: methods that could be considered,
    and that are out. reasons: (sentence, source) each."""

    method: str
    open_to: tuple[str, ...]
    never: tuple[str, ...]
    reasons: tuple[tuple[str, str], ...]

    @property
    def words(self) -> str:
        """The advice in one paragraph."""
        return " ".join(sentence for sentence, _ in self.reasons)


_NO_ALLOY = ("The alloy is not recorded: identify it before any chemical.", PRACTICE)


def advise(panel: Panel | None) -> Advice:
    """Advice for one sheet; None (a part without described panels): as for unknown sheet."""
    if panel is not None and panel.thin:
        return Advice(
            "chemical",
            (),
            BLASTING,
            (("Thin or delicate sheet: chemical stripping, never blasted.", PRACTICE),),
        )
    metal = metal_of(panel.alloy) if panel is not None else ""
    gauge = panel.gauge if panel is not None else None
    steel = metal == "steel"
    if gauge is None and not steel:
        reasons = [("Chemical stripping; sand is for steel only.", PRACTICE)]
        if not metal:
            reasons.append(_NO_ALLOY)
        reasons.append(("The gauge is not recorded: no blasting until it is measured.", PRACTICE))
        return Advice("chemical", (), BLASTING, tuple(reasons))
    size = math.inf if gauge is None else gauge
    refused = {m: why for m in BLASTING if (why := ROWS[m].refuses(metal, size)) is not None}
    reasons = [("Steel: no acid strippers without engineering authority.", "FAA AC 43.13-1B")]
    if not steel:
        reasons = [("Chemical stripping.", PRACTICE)] + ([] if metal else [_NO_ALLOY])
    reasons += refused.values()
    if size < THIN and not steel:
        reasons.append(("Under 1.59 mm (.0625 in): engineering approval before any blasting.", AC))
    open_to = tuple(m for m in BLASTING if m not in refused)
    if open_to:
        words = f"May be considered, on a trial patch first: {', '.join(open_to)}."
        reasons.append((words, PRACTICE))
    if steel:
        reasons.append(("Estimated as chemical stripping until a method is chosen.", PRACTICE))
    return Advice("chemical", open_to, tuple(refused), tuple(reasons))


def warnings_of(method: str, panel: Panel) -> tuple[bool, tuple[Caution, ...]]:
    """(whether a method that throws media is out for a sheet, the rules it meets there with their
    sources); (False, ()) for a method that throws none and where no rule is met.

    method: one of METHODS, or media in other words ("other: ...", "media not stated"), which are
    out for thin and unknown sheet alone.
    """
    if method in METHODS and method not in BLASTING:
        return False, ()
    if panel.thin:
        return True, (CAUTIONS["thin"],)
    metal = metal_of(panel.alloy)
    if panel.gauge is None and metal != "steel":
        words = "The gauge is not recorded: no blasting until it is measured."
        return True, (Caution("gauge", words, PRACTICE),)
    row = ROWS.get(method)
    why = row.refuses(metal, math.inf if panel.gauge is None else panel.gauge) if row else None
    found = [] if why is None else [Caution(method, *why)]
    if metal != "steel":
        if method in ("sand", "glass bead"):
            found.append(CAUTIONS["sand is for steel"])
        if method == "glass bead":
            found.append(CAUTIONS["glass bead"])
        if panel.gauge is not None and panel.gauge < THIN:
            found.append(CAUTIONS["under .0625"])
    return why is not None, tuple(found)
