"""Who and what appears in the story besides parts and entries: people, lots, tools, finishes."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from uuid import NAMESPACE_URL, uuid5

from mapper.job.fields import Measured
from mapper.job.records import FinishSystem, Job, Lot, Person, Shop


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
    note="Wings and tail first; the fuselage stands outside under a sheet until there is room.",
)
TOOLS: Mapping[str, date] = {
    "depth gauge 2": date(2025, 7, 14),
    "film gauge 1": date(2025, 6, 2),
    "ultrasonic gauge 1": date(2025, 7, 14),
    "eddy current set 3": date(2026, 1, 12),
    "hardness pliers": date(2025, 11, 3),
}
# Cans of stripper in the order they were opened: number on the can, delivered, kg on the scale.
CANS: tuple[tuple[str, date, float], ...] = (
    ("G25-207", date(2025, 9, 30), 10.04),
    ("G25-208", date(2025, 9, 30), 10.02),
    ("G25-231", date(2025, 10, 13), 10.05),
    ("G25-260", date(2025, 11, 18), 10.01),
    ("G26-011", date(2026, 1, 12), 10.04),
    ("G26-012", date(2026, 1, 12), 9.98),
    ("G26-038", date(2026, 2, 23), 10.03),
    ("G26-074", date(2026, 3, 30), 10.06),
    ("G26-075", date(2026, 3, 30), 10.02),
    ("G26-101", date(2026, 5, 5), 10.03),
    ("G26-140", date(2026, 6, 29), 10.01),
)
LOTS: Mapping[str, Lot] = {
    **{
        number: Lot(
            made_id("lot", number), "Quenlo gel stripper", number, received=day,
            best_before=day.replace(year=day.year + 1), quantity=10.0, unit="kg",
        )
        for number, day, _ in CANS
    },
    "B1": Lot(made_id("lot", "B1"), "Quenlo brightener", "AB-1180", received=date(2026, 5, 4),
              quantity=2.0, unit="L"),
    "C1": Lot(made_id("lot", "C1"), "Quenlo conversion coat", "CC-0442",
              received=date(2026, 5, 4), quantity=2.0, unit="L"),
    "P1": Lot(made_id("lot", "P1"), "Quenlo epoxy primer", "EP-3391", received=date(2026, 5, 11),
              best_before=date(2027, 5, 11), quantity=5.0, unit="L"),
}  # fmt: skip

_WHITE, _CREAM, _GREEN = ("polyurethane", "white"), ("lacquer", "cream"), ("primer", "green")
# Name, what it says, coats outermost first: kind and colour, um, +/-, how it is known.
_STACKS: tuple[tuple[str, str, str, tuple[tuple[tuple[str, str], float, float, str], ...]], ...] = (
    ("right", "right wing", "", (
        (_WHITE, 70, 15, "rubbed patch"), (_CREAM, 75, 20, "rubbed patch"),
        (_GREEN, 20, 8, "rubbed patch"))),
    ("left", "left wing", "The blue is the former club's.", (
        (_WHITE, 75, 15, "rubbed patch"), (("enamel", "blue"), 60, 15, "rubbed patch"),
        (_CREAM, 75, 20, "rubbed patch"), (_GREEN, 20, 8, "rubbed patch"))),
    ("left tip", "left wing's end, repainted", "", (
        (_WHITE, 90, 20, "rubbed patch"), (("primer", "grey"), 40, 15, "rubbed patch"),
        (("filler", "brown"), 350, 150, "broken edge"))),
    ("left aileron", "left aileron", "Came off another aeroplane, to judge by the yellow.", (
        (_WHITE, 60, 15, "rubbed patch"), (("enamel", "yellow"), 95, 20, "broken edge"),
        (("primer", "grey"), 25, 8, "rubbed patch"))),
    ("tail", "tail surfaces", "", (
        (_WHITE, 65, 15, "rubbed patch"), (_CREAM, 60, 20, "rubbed patch"),
        (_GREEN, 18, 8, "solvent test"))),
    ("tail left", "left tailplane and elevator", "", (
        (_WHITE, 110, 25, "rubbed patch"), (_CREAM, 60, 20, "rubbed patch"),
        (_GREEN, 18, 8, "rubbed patch"))),
    ("fin", "fin and rudder", "A blue flash under the white, right up to the tip.", (
        (_WHITE, 80, 15, "rubbed patch"), (("enamel", "blue"), 55, 15, "rubbed patch"),
        (_CREAM, 70, 20, "rubbed patch"), (_GREEN, 20, 8, "rubbed patch"))),
    ("fuselage", "fuselage", "", (
        (_WHITE, 75, 20, "rubbed patch"), (("enamel", "blue"), 65, 20, "rubbed patch"),
        (_CREAM, 80, 25, "rubbed patch"), (_GREEN, 20, 8, "rubbed patch"))),
    ("belly", "fuselage, belly", "Tar and oil between the coats.", (
        (_WHITE, 95, 30, "rubbed patch"), (_CREAM, 90, 30, "rubbed patch"),
        (_GREEN, 20, 8, "rubbed patch"))),
    ("cowling", "engine cowling", "", (
        (_WHITE, 85, 20, "rubbed patch"), (("enamel", "red"), 50, 15, "broken edge"),
        (("epoxy", "grey"), 30, 10, "rubbed patch"))),
    ("spinner", "spinner", "", (
        (("enamel", "red"), 110, 30, "thickness gauge"),
        (("filler", "grey"), 180, 90, "broken edge"))),
    ("steel", "steel fittings", "", (
        (("enamel", "black"), 45, 15, "broken edge"), (("primer", "red"), 30, 12, "broken edge"))),
    ("inside", "inside faces", "", ((_GREEN, 15, 6, "old papers"),)),
    ("crank", "cranks and levers", "", (
        (("enamel", "black"), 30, 10, "broken edge"), (_GREEN, 15, 6, "broken edge"))),
)  # fmt: skip
FINISH_SYSTEMS: Mapping[str, FinishSystem] = {
    key: FinishSystem(
        made_id("finish", key),
        JOB.id,
        name,
        tuple(
            {"kind": kind, "colour": colour, "thickness": Measured(um, pm), "found": found}
            for (kind, colour), um, pm, found in stack
        ),
        note,
    )
    for key, name, note, stack in _STACKS
}
