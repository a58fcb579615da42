"""One function for each thing a hand writes down, so that the story itself is a table of rows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from demo.cast import FINISH_SYSTEMS, TOOLS
from demo.story.row import Ref, Row, Where, Words, at
from mapper.job.fields import Measured

SHEETS = {"limit_document": "Tavrel repair sheets", "limit_page": "12", "limit_revision": "B"}
INSPECTOR = "waiting for the inspector"


def _tool(name: str) -> dict[str, Any]:
    return {"tool": name, "calibrated": TOOLS[name]} if name else {}


def find(
    when: str,
    part: str,
    where: Where,
    what: str,
    note: str = "",
    *,
    who: str = "mirl",
    size: tuple[float, float] | None = None,
    depth: tuple[float, float] | None = None,
    by: str = "eye",
    tool: str = "",
    sheet: float | None = None,
    key: str = "",
    state: str = "open",
    face: str = "",
    skin: str = "",
    until: date | None = None,
    **more: Any,
) -> Row:
    """A finding that is no corrosion, or corrosion nobody has measured yet."""
    values: dict[str, Any] = {"what": what, "technique": by, **_tool(tool), **more}
    if size is not None:
        values["length"], values["width"] = size
    if depth is not None:
        values["depth_found"] = Measured(*depth)
    if sheet is not None:
        values["gauge"], values["gauge_basis"] = Measured(sheet, 0.03), "measured"
    return Row(at(when), who, part, "finding", where, values, note, state, face, key, skin, until)


def pit(
    when: str,
    part: str,
    where: Where,
    corrosion: str,
    found: float,
    cleaned: float | None = None,
    note: str = "",
    *,
    sheet: float | None = None,
    pm: float = 0.02,
    limit: float | None = None,
    again: str = "",
    tries: Sequence[tuple[str, str, float, bool]] = (),
    **more: Any,
) -> Row:
    """Corrosion with its depth, mm, by the depth gauge: as found, and after cleaning if it was.

    tries: (day, what was done, depth after, whether black was left). again: key of the finding that
    it continues.
    """
    values: dict[str, Any] = {"corrosion": corrosion, "depth_found": Measured(found, pm)}
    if cleaned is not None:
        values["depth_cleaned"] = Measured(cleaned, pm)
    if limit is not None:
        values |= {"limit": limit, **SHEETS}
    if again:
        values["continues"] = Ref("entry", again)
    if tries:
        values["attempts"] = tuple(
            {
                "date": date.fromisoformat(day),
                "done": done,
                "depth_after": Measured(depth, pm),
                "black_left": black,
            }
            for day, done, depth, black in tries
        )
    return find(
        when, part, where, "corrosion", note, by="gauge", tool="depth gauge 2", sheet=sheet,
        **(values | more),
    )  # fmt: skip


def look(
    when: str,
    part: str,
    where: Where,
    by: str,
    findings: Sequence[str] = (),
    note: str = "",
    *,
    who: str = "ilvo",
    light: str = "hand lamp, held flat to the sheet",
    kit: str = "",
    face: str = "",
    skin: str = "",
) -> Row:
    """An inspected area; findings are keys of the rows that came of it."""
    values: dict[str, Any] = {
        "technique": by,
        "inspector": Ref("person", who),
        "date": at(when).date(),
        "light": light,
        "result": "findings recorded" if findings else "nothing found",
    }
    if kit:
        values["kit"] = kit
    if findings:
        values["findings"] = tuple({"finding": Ref("entry", key)} for key in findings)
    return Row(at(when), who, part, "inspected area", where, values, note, "closed", face, "", skin)


def coats(
    when: str, part: str, where: Where, system: str, lead: str, chromate: str, note: str = "",
    *, who: str = "mirl", **more: Any,
) -> Row:  # fmt: skip
    """Where a finish system is; "": nobody knows yet. lead, chromate: "found", "not found" ..."""
    known = {"finish_system": Ref("finish system", system)} if system else {"unknown": True}
    values = {**known, "lead_test": lead, "chromate_test": chromate}
    return Row(at(when), who, part, "coat zone", where, values, note, **more)


def mark(
    when: str, part: str, where: Where, kind: str, text: str, height: float, colour: str,
    fate: str, note: str = "", *, who: str = "ysane", traced: Any = None, **more: Any,
) -> Row:  # fmt: skip
    """A marking worth writing down before it is stripped."""
    values = {
        "marking": kind, "text": text, "letter_height": height, "colour": colour, "fate": fate,
    }  # fmt: skip
    if traced is not None:
        values["traced_outline"] = traced
    return Row(at(when), who, part, "marking", where, values, note, **more)


def film(
    when: str, part: str, where: Where, um: float, pm: float, note: str = "", **more: Any
) -> Row:
    """A reading of the film's thickness at one point."""
    values = {
        "quantity": "film thickness", "film_thickness": Measured(um, pm), **_tool("film gauge 1"),
    }  # fmt: skip
    return Row(at(when), "ysane", part, "reading", where, values, note, **more)


def read(
    when: str, part: str, where: Where, quantity: str, value: float, pm: float, tool: str,
    note: str = "", *, who: str = "mirl", face: str = "", **more: Any,
) -> Row:  # fmt: skip
    """A reading of another quantity: gauge mm, conductivity % IACS, hardness."""
    values = {"quantity": quantity, quantity: Measured(value, pm), **_tool(tool), **more}
    return Row(at(when), who, part, "reading", where, values, note, face=face)


def mask(
    when: str, part: str, where: Where, protection: str, note: str = "", *, who: str = "ysane",
    off: str = "", skin: str = "",
) -> Row:  # fmt: skip
    """What was taped, plugged or covered, and when it came off if it did."""
    values: dict[str, Any] = {"protection": protection, "on": at(when)}
    if off:
        values["off"] = at(off)
    return Row(at(when), who, part, "masking", where, values, note, skin=skin)


def off(
    when: str, part: str, where: str, name: str, order: int, condition: str, now: str,
    hardware: Sequence[Mapping[str, str]] = (), note: str = "", *, who: str = "ysane",
    tag: str = "", quantity: int = 1, arrows: str = "felt pen, on the inner face",
    key: str = "", **more: Any,
) -> Row:  # fmt: skip
    """A removed part, with the words that go on its tag; tag: where it is not the part itself."""
    values: dict[str, Any] = {
        "name": name, "quantity": quantity, "from_words": where, "order": order,
        "condition": condition, "tag_code": tag or part, "where_now": now, **more,
    }  # fmt: skip
    if arrows:
        values |= {"up_arrow": arrows, "outboard_arrow": arrows}
    if hardware:
        values["hardware"] = tuple(hardware)
    return Row(at(when), who, part, "removed part", Words(where), values, note, key=key)


@dataclass(frozen=True)
class Go:
    """One go with stripper: begun at; coat, numbered from outside; kg poured; minutes of hands; %
    of the whole area that still has the coat; minutes from the first brush to the last rinse."""

    when: str
    coat: int
    poured: float
    labour: float
    left: float
    minutes: float
    who: str = "ysane"
    warm: float | None = None
    note: str = ""
    drum: str = "drum 2, stripper sludge"


def goes(part: str, where: Where, system: str, *all_goes: Go) -> tuple[Row, ...]:
    """The goes at one area, each written down three minutes after its end."""
    rows = []
    for go in all_goes:
        layer = FINISH_SYSTEMS[system].coats[go.coat - 1]
        start, stop = at(go.when), at(go.when) + timedelta(minutes=go.minutes)
        values: dict[str, Any] = {
            "coats": ({"number": go.coat, "kind": layer["kind"], "colour": layer["colour"]},),
            "product": "Quenlo gel stripper", "start": start, "stop": stop, "labour": go.labour,
            "left_fraction": go.left, "waste_container": go.drum,
        }  # fmt: skip
        if go.warm is not None:
            values["temperature"] = go.warm
        row = Row(
            stop + timedelta(minutes=3), go.who, part, "application", where, values, go.note,
            "closed", poured=go.poured,
        )  # fmt: skip
        rows.append(row)
    return tuple(rows)


def blast(
    when: str, part: str, where: Where, media: str, grade: str, bar: float, trigger: float,
    labour: float, used: float, left: float, note: str = "", *, who: str = "ysane",
    open_air: bool = False, nozzle: float = 8.0, skin: str = "",
) -> Row:  # fmt: skip
    """One blasting round: bar, minutes of trigger and of hands, kg of media used up, % left."""
    values = {
        "media": media, "grade": grade, "pressure": bar, "nozzle": nozzle,
        "where": "open" if open_air else "cabinet", "trigger": trigger, "labour": labour,
        "media_used": used, "left_fraction": left,
        "waste_container": "drum 4, spent media" if media != "sand" else "drum 5, spent sand",
    }  # fmt: skip
    return Row(at(when), who, part, "blasting round", where, values, note, "closed", skin=skin)


def trial(
    when: str, part: str, where: Where, method: str, product: str, minutes: float, result: str,
    chosen: bool, note: str = "", *, who: str = "mirl", **used: float,
) -> Row:  # fmt: skip
    """A trial patch; used: volume_used L or mass_used kg."""
    values = {
        "method": method, "product": product, "minutes": minutes, "result": result,
        "chosen": chosen, **used,
    }  # fmt: skip
    return Row(at(when), who, part, "trial patch", where, values, note)


def treat(
    when: str, part: str, where: Where, what: str, bare: str, note: str = "", *, lot: str = "",
    water: str = "", parts: float | None = None, who: str = "mirl", state: str = "closed",
    tries: Sequence[tuple[str, str, float, bool]] = (), face: str = "", key: str = "",
) -> Row:  # fmt: skip
    """A treatment of bare metal, written down when it was done; bare: since when it is bare."""
    names = {"acid brightener": "Quenlo brightener", "conversion coat": "Quenlo conversion coat"}
    values: dict[str, Any] = {"what": what, "bare_since": at(bare), "done_at": at(when)}
    if what in names:
        values |= {"product": names[what], "lot": Ref("lot", lot), "water_break": water}
    else:
        values["product"] = "abrasive disc 320, then 600 by hand"
    if parts is not None:
        values["dilution"] = parts
    if tries:
        values["attempts"] = tuple(
            {
                "date": date.fromisoformat(day), "done": done,
                "depth_after": Measured(depth, 0.02), "black_left": black,
            }
            for day, done, depth, black in tries
        )  # fmt: skip
    return Row(at(when), who, part, "treatment", where, values, note, state, face, key)


def prime(
    when: str, part: str, where: Where, minutes: float, used: float, lot: str,
    air: tuple[float, float], note: str = "", *, wet: float | None = None,
    dry: tuple[float, float] | None = None, state: str = "closed", face: str = "", skin: str = "",
) -> Row:  # fmt: skip
    """Primer on: used L of mixed paint; air: degrees and % humidity; wet film um, dry film um."""
    start, stop = at(when), at(when) + timedelta(minutes=minutes)
    values: dict[str, Any] = {
        "coat": "primer", "product": "Quenlo epoxy primer", "lot": Ref("lot", lot),
        "mix": "2 to 1 by volume", "mixed_at": start - timedelta(minutes=26), "start": start,
        "stop": stop, "quantity": used, "temperature": air[0], "humidity": air[1],
    }  # fmt: skip
    if wet is not None:
        values["film_wet"] = Measured(wet, 8)
    if dry is not None:
        values["film_dry"] = Measured(*dry)
    return Row(
        stop + timedelta(minutes=9), "dask", part, "paint application", where, values, note, state,
        face, skin=skin,
    )  # fmt: skip
