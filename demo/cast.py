"""Who and what appears in the story besides entries: people, lots, finish systems, parts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from uuid import NAMESPACE_URL, uuid5

from mapper.job.fields import Measured
from mapper.job.records import FinishSystem, Job, Lot, Person, Shop

PARTS = Path(__file__).parent / "parts"


def made_id(*words: str) -> str:
    """The same id for the same words on every run: the demo is the same everywhere."""
    return str(uuid5(NAMESPACE_URL, "/".join(("demo", *words))))


SHOP = Shop(made_id("shop"), "Quarrow Metalwork", settings={"keep_photo_location": False})
PEOPLE: Mapping[str, Person] = {
    "mirl": Person(made_id("person", "mirl"), "Mirl Tovane", "metal work, leads the job"),
    "ysane": Person(made_id("person", "ysane"), "Ysane Kettro", "metal work"),
    "dask": Person(made_id("person", "dask"), "Dask Orrelin", "paint"),
    "ilvo": Person(made_id("person", "ilvo"), "Ilvo Brannet", "inspector", "structures, no. 0417"),
}
JOB = Job(
    made_id("job"),
    "Tavrel 2, no. 17",
    airframe="Ossemby Tavrel 2",
    serial="17",
    registration="QQ-TAV",
    owner="Perrow Osmery",
    opened=date(2025, 9, 8),
    note="Wings and tail first; the fuselage comes when there is room.",
)
_DELIVERED = {
    "S1": date(2025, 9, 30), "S2": date(2025, 9, 30), "S3": date(2025, 10, 13),
    "S4": date(2025, 10, 27), "S5": date(2026, 1, 12), "S6": date(2026, 2, 2),
    "S7": date(2026, 2, 2), "S8": date(2026, 3, 9), "S9": date(2026, 4, 13),
}  # fmt: skip
LOTS: Mapping[str, Lot] = {
    **{
        key: Lot(
            made_id("lot", key), "Quenlo gel stripper", f"G25-{number:03d}", received=day,
            best_before=day.replace(year=day.year + 1), quantity=5.0, unit="kg",
        )
        for number, (key, day) in enumerate(_DELIVERED.items(), 207)
    },
    "B1": Lot(made_id("lot", "B1"), "Quenlo brightener", "AB-1180", received=date(2026, 5, 4),
              quantity=1.0, unit="L"),
    "C1": Lot(made_id("lot", "C1"), "Quenlo conversion coat", "CC-0442",
              received=date(2026, 5, 4), quantity=1.0, unit="L"),
    "P1": Lot(made_id("lot", "P1"), "Quenlo epoxy primer", "EP-3391", received=date(2026, 5, 11),
              best_before=date(2027, 5, 11), quantity=3.0, unit="L"),
}  # fmt: skip


def _coat(kind: str, colour: str, thickness: float, spread: float) -> dict[str, object]:
    return {
        "kind": kind,
        "colour": colour,
        "thickness": Measured(thickness, spread),
        "found": "rubbed patch",
    }


FINISH_SYSTEMS: Mapping[str, FinishSystem] = {
    "right": FinishSystem(
        made_id("finish", "right"),
        JOB.id,
        "right wing",
        (
            _coat("polyurethane", "white", 70, 15),
            _coat("lacquer", "cream", 75, 20),
            _coat("primer", "green", 20, 8),
        ),
    ),
    "left": FinishSystem(
        made_id("finish", "left"),
        JOB.id,
        "left wing",
        (
            _coat("polyurethane", "white", 75, 15),
            _coat("enamel", "blue", 60, 15),
            _coat("lacquer", "cream", 75, 20),
            _coat("primer", "green", 20, 8),
        ),
        "The blue is the former club's.",
    ),
    "left tip": FinishSystem(
        made_id("finish", "left tip"),
        JOB.id,
        "left tip, repainted",
        (
            _coat("polyurethane", "white", 90, 20),
            _coat("primer", "grey", 40, 15),
            _coat("filler", "brown", 350, 150),
        ),
    ),
}


@dataclass(frozen=True)
class Made:
    """One part: key in the story, assembly, tag code, part file; left: the mirror image of it."""

    key: str
    assembly: str
    code: str
    file: str
    left: bool = False
    note: str = ""


PARTS_MADE: tuple[Made, ...] = (
    Made("right wing", "right wing", "RW-00", "right_wing.toml"),
    Made(
        "left wing", "left wing", "LW-00", "right_wing.toml", left=True,
        note="Taken as the mirror image of the right one; checked with a tape at ribs 1, 6 and 11.",
    ),
    Made("tank cover", "right wing", "RW-02", "tank_cover.toml"),
    Made("pulley cover", "right wing", "RW-01", "pulley_cover.toml"),
    Made("rib 4", "right wing", "RW-04", "rib_4.toml"),
    Made("tube", "right wing", "RW-03", "push_pull_tube.toml"),
    Made("left aileron", "left wing", "LW-01", "left_aileron.toml"),
    Made("right elevator", "tailplane", "TP-01", "right_elevator.toml"),
)  # fmt: skip
ASSEMBLIES = ("right wing", "left wing", "tailplane")


def part_file(made: Made) -> str:
    """The part file's text; the left wing is written as the right one with its hand changed."""
    text = (PARTS / made.file).read_text("utf-8")
    if not made.left:
        return text
    return (
        text.replace('part = "right ', 'part = "left ')
        .replace('side = "right"', 'side = "left"')
        .replace(
            "# The right outer wing", "# The left outer wing, as the mirror image of the right"
        )
    )
