"""What is not known, said as plainly as what is; what holds for several panels is said once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from mapper.estimate.regions import WHOLE
from mapper.job.records import Part
from mapper.job.values import missing
from mapper.report.lookup import Lookup
from mapper.report.model import Block, Column, Section, Table, Words
from mapper.report.numbers import PartNumbers
from mapper.report.phrases import counted, listed
from mapper.report.summary import share
from mapper.report.worth import Worth
from mapper.units import Units

LEAD = (
    "A blank is not a clean bill. These pages list what nobody has looked at, measured, tested or "
    "written down."
)
AREA, PART = "\0area", "\0part"  # stand in a sentence for what differs from panel to panel


def unknown(
    lookup: Lookup,
    numbers: Mapping[str, PartNumbers],
    units: Units,
    worth: Worth,
    left_out: tuple[str, ...] = (),
) -> Section:
    """The section. left_out: sentences about what this copy of the report lacks."""
    blocks: list[Block] = [
        Words(LEAD, "lead"),
        not_looked_at(lookup, numbers, units),
        others(lookup, units, worth),
    ]
    lacking = sum(bool(missing(e)) for e in lookup.book.entries)
    if lacking:
        blocks.append(
            Words(
                f"{counted(lacking, 'entry', 'entries').capitalize()} "
                f"{'lacks' if lacking == 1 else 'lack'} something that is expected: "
                'see "To complete".',
                "gap",
            )
        )
    blocks += [Words(text, "gap") for text in left_out]
    return Section("What is not known", 1, tuple(blocks))


def not_looked_at(lookup: Lookup, numbers: Mapping[str, PartNumbers], units: Units) -> Table:
    """Where nobody looked, the largest first; the panels of a part's face of which nothing has been
    seen stand in one row."""
    rows: list[tuple[float, tuple[str, ...]]] = []
    for part in lookup.book.parts:
        unseen: dict[str, list[tuple[str, float]]] = {}
        for row in numbers[part.id].ledger:
            area = row.get("not_looked_at_mm2") or 0.0
            if area <= 0:
                continue
            name = row["skin"] if row["panel"] == WHOLE else row["panel"]
            if row.get("inspected_mm2"):
                words = (part.name, name, row["face"], units.show(area, "mm2"))
                rows.append((area, (*words, share(area, row["area_mm2"]))))
            else:
                unseen.setdefault(row["face"], []).append((name, area))
        for face, found in unseen.items():
            area = sum(a for _, a in found)
            names = panels((name for name, _ in found), part, lookup)
            rows.append((area, (part.name, names, face, units.show(area, "mm2"), "100 %")))
    rows.sort(key=lambda pair: -pair[0])
    return Table(
        "Not looked at",
        (
            Column("Part", share=1.4),
            Column("Panels", share=4),
            Column("Face", share=0.8),
            Column("Area", number=True),
            Column("Of the face", number=True, share=0.7),
        ),
        tuple(row for _, row in rows),
        empty="Every panel with a shape has been looked at on every face, by some technique.",
    )


@dataclass
class _Gap:
    """One sentence with the places it holds for: part id -> panels and faces, in order."""

    text: str
    to_do: str
    area: float = 0.0
    places: dict[str, list[tuple[str, str]]] = field(default_factory=dict)


def others(lookup: Lookup, units: Units, worth: Worth) -> Table:
    """All other gaps: sentences that differ only in the part's name or the area are one row, with
    all its places and the sum of the areas. Not repeated here: where nobody looked, and how well
    the parts were measured, which stands on the first page."""
    gaps: dict[tuple[str, str], _Gap] = {}
    for part in lookup.book.parts:
        for one in worth.gaps(part.id):
            measured = one["topic"] == "shape" and lookup.geometry(part) is not None
            if measured or one["topic"] == "inspection":
                continue
            text = one["text"].replace(part.name, PART)
            if one["area_mm2"]:
                text = text.replace(units.show(one["area_mm2"], "mm2"), AREA)
            gap = gaps.setdefault((text, one["to_do"]), _Gap(text, one["to_do"]))
            gap.area += one["area_mm2"]
            place = _place(one["skin"], one["panel"], one["face"])
            gap.places.setdefault(part.id, []).append(place)
        for text in silent(part, lookup):
            gap = gaps.setdefault((text, ""), _Gap(text, "Write it down."))
            gap.places.setdefault(part.id, []).append(("", ""))
    rows = sorted(gaps.values(), key=lambda g: -sum(map(len, g.places.values())))
    return Table(
        "Other gaps",
        (Column("Not known", share=3), Column("Where", share=3.4), Column("To do", share=2)),
        tuple((_sentence(g, lookup, units), _where(g, lookup), g.to_do) for g in rows),
        empty="No other gap is known.",
    )


def _sentence(gap: _Gap, lookup: Lookup, units: Units) -> str:
    names = [lookup.part[part_id].name for part_id in gap.places]
    name = names[0] if len(names) == 1 else counted(len(names), "part")
    return gap.text.replace(AREA, units.show(gap.area, "mm2")).replace(PART, name)


def _where(gap: _Gap, lookup: Lookup) -> str:
    """The places of a gap in lines: parts it holds for all over in one, others by face."""
    lines = []
    bare = []
    whole = []
    for part_id, places in gap.places.items():
        part = lookup.part[part_id]
        named = [p for p in places if p[0]]
        there = {_place(s.skin.name, s.panel, s.face) for s in lookup.sheets(part)}
        if not named:
            bare.append(part.name)
        elif there == set(named) and len(there) > 1:
            whole.append(part.name)
        else:
            lines += _by_face(part, named, lookup)
    if whole:
        lines.insert(0, f"every panel and face of {listed(whole)}")
    return "\n".join(([listed(bare)] if bare else []) + lines)


def _by_face(part: Part, places: list[tuple[str, str]], lookup: Lookup) -> list[str]:
    """A line for each face, one for several of them where the panels are the same."""
    faces: dict[str, list[str]] = {}
    for face in dict.fromkeys(face for _, face in places):
        names = panels((p for p, f in places if f == face), part, lookup)
        faces.setdefault(names, []).append(face)
    return [
        f"{part.name}, {listed(found)} {'face' if len(found) == 1 else 'faces'}: {names}"
        if all(found)
        else f"{part.name}: {names}"
        for names, found in faces.items()
    ]


def _place(skin: str, panel: str, face: str) -> tuple[str, str]:
    return (skin if panel == WHOLE else panel, face)


def panels(names: Iterable[str], part: Part, lookup: Lookup) -> str:
    """Panels of a part in one cell, each once: "nose; upper"; "all 10 panels" when they are."""
    found = list(dict.fromkeys(names))
    there = len({(s.skin.name, s.panel) for s in lookup.sheets(part)})
    return f"all {there} panels" if len(found) == there > 2 else "; ".join(found)


def silent(part: Part, lookup: Lookup) -> tuple[str, ...]:
    """Sentences on what a part's record says nothing about."""
    if lookup.geometry(part) is None:
        return ()
    if not any(e.kind == "coat zone" for e in lookup.entries(part)):
        return ("No coat zone is recorded: what is on it, in how many coats, nobody has said.",)
    return ()
