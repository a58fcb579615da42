"""September and October 2025: what came off, with the words on its tag."""

from __future__ import annotations

from demo.story.arrival import LW, RW
from demo.story.row import Row, Words, at


def off(
    day: str,
    clock: str,
    part: str,
    where: str,
    name: str,
    quantity: int,
    order: int,
    tag: str,
    condition: str,
    now: str,
    *,
    who: str = "ysane",
    hardware: tuple[dict[str, str], ...] = (),
    number: str = "",
    note: str = "",
) -> Row:
    """One removed part, with the words that go on its tag."""
    values: dict[str, object] = {
        "name": name,
        "quantity": quantity,
        "from_words": where,
        "order": order,
        "condition": condition,
        "tag_code": tag,
        "where_now": now,
        "up_arrow": "felt pen, on the inner face",
        "outboard_arrow": "felt pen, on the inner face",
    }
    if hardware:
        values["hardware"] = hardware
    if number:
        values["number"] = number
    return Row(at(day, clock), who, part, "removed part", Words(where), values, note)


SCREWS = {"bolt": "countersunk screw, about 4 x 12", "washers": "dished, one", "nut": "nut plate"}

ROWS: tuple[Row, ...] = (
    # Off it came.
    off(
        "2025-09-15",
        "09:10",
        RW,
        "lower skin, station 2580, aft of the stringer",
        "pulley cover",
        1,
        1,
        "RW-01",
        "flat, two holes pulled oval",
        "board A, hook 1",
        hardware=({"hole": "all 12, clockwise from forward inboard", **SCREWS},),
    ),
    off(
        "2025-09-15",
        "09:50",
        RW,
        "upper skin between ribs 2 and 3",
        "tank cover",
        1,
        2,
        "RW-02",
        "sealant hard, comes off in strips",
        "board A, hook 2",
        hardware=({"hole": "all 34", **SCREWS},),
    ),
    off(
        "2025-09-16",
        "10:15",
        RW,
        "rear spar, station 1660, outboard bracket",
        "aileron push-pull tube",
        1,
        3,
        "RW-03",
        "paint chipped at mid length, ends dry",
        "board A, hook 3",
        hardware=(
            {
                "hole": "fork end, inboard",
                "bolt": "6 x 30, head up",
                "washers": "1 under nut",
                "nut": "castle nut",
                "locking": "cotter pin: pattern only",
            },
            {
                "hole": "fork end, outboard",
                "bolt": "6 x 30, head up",
                "washers": "1 under head, 1 under nut",
                "nut": "castle nut",
                "locking": "cotter pin: pattern only",
            },
        ),
    ),
    off(
        "2025-09-22",
        "09:00",
        LW,
        "rear spar, stations 2780 to 4400",
        "aileron, left",
        1,
        1,
        "LW-01",
        "hinge bolts tight, trailing edge wavy",
        "rack, shelf 2",
        who="mirl",
        hardware=(
            {
                "hole": "three hinges, inboard to outboard",
                "bolt": "6 x 38, head inboard",
                "washers": "1 under nut",
                "nut": "castle nut",
                "locking": "cotter pin: pattern only",
            },
        ),
    ),
    off(
        "2025-10-06",
        "14:20",
        "right elevator",
        "tailplane rear spar, right",
        "elevator, right",
        1,
        1,
        "TP-01",
        "trim tab cable cut by the owner before transport",
        "rack, shelf 3",
    ),
    off(
        "2025-10-20",
        "11:10",
        RW,
        "station 1660, between the spars",
        "rib 4",
        1,
        4,
        "RW-04",
        "lower flange corroded, rivets drilled out",
        "bench 2",
        who="mirl",
        note="Out because the lower flange had lifted from the skin.",
    ),
)
