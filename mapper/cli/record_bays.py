"""`mapper list bays`: what lies in which bay."""

from __future__ import annotations

from typing import Any

from mapper.cli.desk import Csv, Desk, Folder, InJob
from mapper.cli.record_list import PartName, frame, lists
from mapper.cli.table import print_table


@lists.command("bays")
def list_bays(part: PartName = "", shop: Folder = None, job: InJob = "", csv: Csv = False) -> None:
    """The bays between ribs and spars, what bounds them, and the parts, stringers and webs inside.

    Decided by where things are. Without --part only parts that have bays, or anything inside.
    """
    from mapper.job.bays import contents_of

    with Desk(shop, job) as desk:
        heads = (f"skin {desk.units.label('mm2')}" if csv else "skin around it",)
        rows = []
        for owner in [desk.find("part", part)] if part else list(desk.book.parts):
            geometry = desk.book.geometry_of(owner.id)
            if geometry is None:
                continue
            bays = contents_of(desk.book, owner.id)
            if not part and not geometry.bays and not bays[0].inside:
                continue
            rows += [
                {
                    "part": owner.code or owner.name,
                    "bay": bay.bay,
                    heads[0]: _size(desk, geometry, bay.bay, csv),
                    "inside": ", ".join(bay.inside),
                    "bounded by": ", ".join(bay.bounds),
                }
                for bay in bays
            ]
    columns = ("part", "bay", *heads, "inside", "bounded by")
    print_table(frame(rows, columns), empty="No bay: no part has ribs or spars yet.", csv=csv)


def _size(desk: Desk, geometry: Any, bay: str, csv: bool) -> Any:
    """The area of one face of the skin that closes a bay, openings taken off."""
    from mapper.job.inner import WHOLE, rooms_of
    from mapper.job.outlines import sheet_area
    from mapper.surface.measure import area

    if bay == WHOLE:
        size = sum(sheet_area(geometry, skin.name) for skin in geometry.skins)
    else:
        skin = geometry.skin(geometry.bays[0].skin)
        size = sum(area(skin, room.flat) for room in rooms_of(geometry) if room.name == bay)
    if csv:
        return desk.units.number(size, "mm2")
    return desk.units.with_tolerance(size, "mm2", geometry.tolerance.percent)
