"""Which method a panel asks for, in its first honest form: what rules a method out, and why.

Thin or delicate sheet is stripped chemically and never blasted; sand is for steel only. Nothing
here approves a method: blasting always needs what the words say.
"""

from __future__ import annotations

from dataclasses import dataclass

from mapper.estimate.cautions import AC, PLASTIC_LEAST, PRACTICE, THIN, metal_of
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


BLASTING = ("plastic media", "glass bead", "sand")


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
    if metal == "steel":
        return Advice(
            "chemical",
            BLASTING,
            (),
            (
                ("Steel: sand and glass bead may be considered, on a trial patch first.", PRACTICE),
                ("No acid strippers without engineering authority.", "FAA AC 43.13-1B"),
                ("Estimated as chemical stripping until a method is chosen.", PRACTICE),
            ),
        )
    reasons = [("Chemical stripping; sand is for steel only.", PRACTICE)]
    never = ["sand"]
    if not metal:
        reasons.append(("The alloy is not recorded: identify it before any chemical.", PRACTICE))
    if gauge is None:
        never.append("plastic media")
        reasons.append(("The gauge is not recorded: no blasting until it is measured.", PRACTICE))
        return Advice("chemical", (), BLASTING, tuple(reasons))
    if gauge < PLASTIC_LEAST:
        never.append("plastic media")
        reasons.append(
            (f"{gauge:g} mm is under .81 mm (.032 in): no plastic media.", "TM 1-1500-344-23-2")
        )
    if gauge < THIN:
        reasons.append(("Under 1.59 mm (.0625 in): engineering approval before any blasting.", AC))
    open_to = tuple(m for m in BLASTING if m not in never)
    return Advice("chemical", open_to, tuple(never), tuple(reasons))
