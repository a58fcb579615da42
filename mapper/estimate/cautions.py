"""Cautions of the trade, each with its source, and which of them a piece of work calls for.

They are reminders and defer to local codes, the maker's data sheet and licensed practice: the first
caution of every list says so.
"""

from __future__ import annotations

from dataclasses import dataclass

from mapper.surface.geometry import Panel

PRACTICE = "common practice, no source"
AC = "FAA AC 43.13-1B ch. 6"
THIN = 1.5875  # mm, .0625 in
PLASTIC_LEAST = 0.8128  # mm, .032 in


@dataclass(frozen=True)
class Caution:
    """One caution: key (for tests and links), text, source as printed beside it."""

    key: str
    text: str
    source: str


def _c(key: str, text: str, source: str) -> tuple[str, Caution]:
    return key, Caution(key, text, source)


CAUTIONS: dict[str, Caution] = dict(
    (
        _c(
            "defer",
            "Local codes, the maker's data sheet and licensed practice come before anything printed"
            " here.",
            PRACTICE,
        ),
        _c(
            "old paint",
            "Old aircraft paint may hold chromate (PEL 5 µg/m³ Cr VI) and lead, and plating is"
            " often cadmium: test first, no dry sanding, no heating, collect all waste.",
            "29 CFR 1910.1026; the rest from memory",
        ),
        _c(
            "methylene chloride",
            "Methylene chloride: a rule of 2024 prohibits most uses (2 ppm, action level 1 ppm"
            " where still allowed); the older 25 ppm alone misleads. Check whether you may use it"
            " at all.",
            "40 CFR 751 subpart B; OSHA",
        ),
        _c(
            "rinse water",
            "Collect the rinse water: it carries the paint's chromate and lead. Ask the local"
            " authority how it is disposed of.",
            PRACTICE,
        ),
        _c(
            "stripper sheet",
            "Gloves, eye protection and air as the stripper's data sheet says; its dwell time and"
            " the metals it may touch govern.",
            PRACTICE,
        ),
        _c(
            "trapped stripper",
            "Mask seams, holes, bearings and bonded edges: stripper trapped in a lap corrodes"
            " later.",
            PRACTICE,
        ),
        _c(
            "thin",
            "Thin, light or delicate sheet is stripped chemically, never blasted.",
            PRACTICE,
        ),
        _c(
            "under .0625",
            "Sheet under 1.59 mm (.0625 in): care with heat, no rotary files, engineering approval"
            " before any blasting.",
            AC,
        ),
        _c(
            "plastic media",
            "Plastic media at intermediate level only on metal of .81 mm (.032 in) or more; none on"
            " aluminium or magnesium before penetrant inspection unless directed.",
            "TM 1-1500-344-23-2",
        ),
        _c(
            "plastic trial",
            "Plastic media usually spares anodising and plating: prove it on a trial patch; recover"
            " the media; take bearings out or mask them first.",
            PRACTICE,
        ),
        _c(
            "glass bead",
            "Glass bead on aluminium only where directed: 30-40 psi clad, 40-45 psi bare, 15 s per"
            " spot at most.",
            AC,
        ),
        _c(
            "sand is for steel",
            "Sand and glass at shop pressure (80-90 psi) are for steel; on aluminium they cut, heat"
            " and warp.",
            PRACTICE,
        ),
        _c(
            "one media",
            "One media for each family of metals: iron in aluminium's media seeds corrosion.",
            PRACTICE,
        ),
        _c(
            "not by blasting",
            "Blasting is not for heavy corrosion products nor intergranular exfoliation; steel"
            " fasteners out before blending.",
            AC,
        ),
        _c(
            "abrasives",
            "No silicon carbide on aluminium other than clad; on clad, sanding is limited to minor"
            " scratches.",
            "FAA AC 43.13-1B Table 6-1",
        ),
        _c(
            "steel and acid",
            "No acid strippers, acid removers or conversion coats on steel without engineering"
            " authority; never on high-strength steel (hydrogen embrittlement) or magnesium.",
            "FAA AC 43.13-1B; NAVAIR 01-1A-509-2 from memory",
        ),
        _c("prime steel", "Prime steel within 1 h of cleaning.", AC),
        _c(
            "second attempt",
            "A stronger method when corrosion remains after the second attempt: ask the inspector"
            " before a third; endless repeats thin the sheet.",
            AC,
        ),
        _c(
            "cleaning air",
            "Cleaning air below 30 psi, with guarding and protective equipment.",
            "29 CFR 1910.242(b)",
        ),
        _c(
            "cadmium",
            "Plated hardware: cadmium dust, PEL 5 µg/m³. Never beaded in the open.",
            "29 CFR 1910.1027",
        ),
        _c(
            "bearings",
            "Bearings inside: take them out or mask them before stripping, rinsing or blasting.",
            PRACTICE,
        ),
        _c(
            "balance",
            "Stripping, filling or painting a control surface changes its balance: re-balance"
            " before flight.",
            PRACTICE,
        ),
        _c(
            "licensed decision",
            "Acceptance of corrosion, pitting or blends is a licensed person's decision against the"
            " structural repair data.",
            PRACTICE,
        ),
    )
)

_BY_METHOD: dict[str, tuple[str, ...]] = {
    "chemical": (
        "old paint",
        "methylene chloride",
        "stripper sheet",
        "trapped stripper",
        "rinse water",
    ),
    "plastic media": ("old paint", "plastic media", "plastic trial", "one media", "cleaning air"),
    "glass bead": ("old paint", "glass bead", "sand is for steel", "one media", "cleaning air"),
    "sand": ("old paint", "sand is for steel", "one media", "prime steel", "cleaning air"),
    "hand abrasive": ("old paint", "abrasives"),
}
METHODS = tuple(_BY_METHOD)
_BY_KIND: dict[str, tuple[str, ...]] = {
    "finding": ("not by blasting", "second attempt", "licensed decision"),
    "coat zone": ("old paint",),
    "application": _BY_METHOD["chemical"],
    "blasting round": ("old paint", "sand is for steel", "plastic media", "one media"),
    "treatment": ("steel and acid", "second attempt"),
    "paint application": ("balance",),
    "removed part": ("cadmium",),
}


def metal_of(alloy: str) -> str:
    """ "aluminium", "steel", "magnesium", or "" where the words do not tell."""
    words = alloy.casefold()
    if any(w in words for w in ("steel", "4130", "4340", "chromoly", "chrome-moly", "stainless")):
        return "steel"
    if any(w in words for w in ("magnesium", "az31", "elektron")):
        return "magnesium"
    if any(w in words for w in ("aluminium", "aluminum", "alclad", "dural")):
        return "aluminium"
    digits = next((w for w in words.replace("-", " ").split() if w[:4].isdigit()), "")
    return "aluminium" if digits[:1] in ("1", "2", "3", "5", "6", "7") else ""


def cautions_for(
    *,
    method: str = "",
    kind: str = "",
    panel: Panel | None = None,
    bearings_inside: bool = False,
    control_surface: bool = False,
) -> tuple[Caution, ...]:
    """What to remind people of, most general first, each once.

    method: one of METHODS, kind: a kind of entry, panel: the sheet worked on; whatever is not given
    adds nothing. "defer" always comes first, so the answer is never empty.
    """
    keys = ["defer", *_BY_METHOD.get(method, ()), *_BY_KIND.get(kind, ())]
    if panel is not None:
        metal = metal_of(panel.alloy)
        if panel.thin:
            keys.append("thin")
        if panel.gauge is None or panel.gauge < THIN:
            keys.append("under .0625")
        if panel.gauge is None or panel.gauge < PLASTIC_LEAST:
            keys.append("plastic media")
        if metal in ("steel", "magnesium", ""):
            keys.append("steel and acid")
        if metal != "steel":
            keys.append("sand is for steel")
    if bearings_inside:
        keys.append("bearings")
    if control_surface:
        keys.append("balance")
    return tuple(CAUTIONS[k] for k in dict.fromkeys(keys))
