"""`mapper distance`: how far it is along the sheet, round the nose and round openings."""

from __future__ import annotations

import json
from typing import Annotated

import typer

from mapper.cli.desk import Folder, InJob
from mapper.cli.main import app
from mapper.cli.shape import FileOrNone, Json, StoredPart, file_or_stored, system_of
from mapper.errors import MapperError


@app.command()
def distance(
    file: FileOrNone = None,
    part: StoredPart = "",
    start: Annotated[
        str,
        typer.Option(
            "--from",
            help='A place: station and % chord, "1200 25 upper"; on a round body station and'
            ' degrees from the top, "2400 90"; anywhere lengths on the flat map, "flat 300 120".',
            metavar="PLACE",
        ),
    ] = "",
    end: Annotated[str, typer.Option("--to", help="Another place.", metavar="PLACE")] = "",
    line: Annotated[
        str,
        typer.Option(
            "--to-line",
            help='A rib, spar, stringer, rivet row, seam, opening or edge by its name; "edge" is'
            " the nearest of all free edges.",
            metavar="NAME",
        ),
    ] = "",
    within: Annotated[
        str,
        typer.Option(
            help="The area of all within this distance of --from, or of --to-line alone.",
            metavar="DISTANCE",
        ),
    ] = "",
    skin: Annotated[str, typer.Option(help="Name of the skin.", show_default="the first")] = "",
    side: Annotated[str, typer.Option(help="upper or lower, for places that do not say.")] = "",
    units: Annotated[
        str | None,
        typer.Option(
            help="Units of the places and of the answer: mm or inch.",
            show_default="as the part file or the shop",
        ),
    ] = None,
    shop: Folder = None,
    job: InJob = "",
    as_json: Json = False,
) -> None:
    """The shortest distance along the sheet: between two places, or from one to a line.

    It goes over seams between charts, round the nose and round openings, never through the sheet
    or over a trailing edge. With --from alone: how far every named line, edge and opening is.
    Of a part file, or with --part of a part that the shop holds.
    """
    from mapper.units import Units

    if side not in ("", "upper", "lower"):
        raise MapperError(f"--side {side} was given.", "upper or lower is allowed.")
    own, geometry = file_or_stored("distance", file, part, shop, job)
    from mapper.job.partfile.apart import Question, distance_lines, distance_record

    system = system_of(units, own)
    typed = Units(system)
    asked = Question(
        skin=skin,
        start=start,
        end=end,
        line=line,
        within=typed.parse(within, "mm") if within else None,
        side=side,
    )
    if as_json:
        record = distance_record(geometry, asked, typed)
        record["units_of_arguments"] = "in" if system == "inch" else "mm"
        print(json.dumps(record, indent=2, ensure_ascii=False))
    else:
        for text in distance_lines(geometry, asked, typed):
            print(text)
