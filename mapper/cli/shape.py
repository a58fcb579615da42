"""`mapper shape`, `area`, `keys`, `example`: what a part file says, and the areas it gives."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from mapper.cli.desk import Desk, Folder, InJob
from mapper.cli.main import app
from mapper.errors import MapperError

PartFile = Annotated[Path, typer.Argument(help="The part file (TOML).", metavar="FILE")]
FileOrNone = Annotated[
    Path | None,
    typer.Argument(help="The part file (TOML), or --part.", metavar="FILE", show_default=False),
]
StoredPart = Annotated[
    str,
    typer.Option(
        "--part",
        help="Instead of FILE a part of the shop, with the shape it has now: tag code, name or id.",
        metavar="PART",
    ),
]
Json = Annotated[bool, typer.Option("--json", help="Full precision, as JSON; lengths in mm.")]
SYSTEMS = {"mm": "metric", "metric": "metric", "in": "inch", "inch": "inch"}


def system_of(units: str | None, own: str) -> str:
    """ "metric" or "inch": as said, else as the part file is written."""
    word = (units or own).strip().lower()
    if word not in SYSTEMS:
        raise MapperError(f"--units {units} was given.", "mm or inch is allowed.")
    return SYSTEMS[word]


def read_and_build(file: Path) -> tuple[Any, Any]:
    """(PartSpec, Geometry) of a part file; its warnings go to the error stream."""
    # The surface takes seconds to load; a mistake in the file is told before that.
    from mapper.job.partfile.read import read

    spec = read(file)
    for warning in spec.warnings:
        print(f"mapper: please check {file}, {warning.text()}", file=sys.stderr)
    from mapper.job.partfile.build import build

    return spec, build(spec)


def file_or_stored(
    command: str, file: Path | None, part: str, shop: Path | None, job: str
) -> tuple[str, Any]:
    """(own units, Geometry) of a part file, or of a part in the shop; one of them must be named."""
    if (file is None) == (not part):
        given = f"{file} and --part {part}" if part else "Neither a part file nor --part"
        raise MapperError(
            f"{given} {'were' if part else 'was'} given.",
            "One of them is needed.",
            f"A part file: mapper {command} wing.toml ... A part of the shop: mapper {command} "
            "--part CODE ...",
        )
    if file is not None:
        if not file.suffix and not file.exists():
            raise MapperError(
                f"There is no part file {file}.",
                "A part file is needed, or a part of the shop by its tag code.",
                f"For the part: mapper {command} --part {file} ...",
            )
        spec, geometry = read_and_build(file)
        return spec.units, geometry
    with Desk(shop, job) as desk:
        owner = desk.find("part", part)
        geometry = desk.book.geometry_of(owner.id)
        if geometry is None:
            raise MapperError(
                f"{owner.name} has no shape.",
                "A part with a shape can be measured.",
                "`mapper remap` gives it one from its part file.",
            )
        return desk.units.system, geometry


@app.command()
def shape(
    file: PartFile,
    as_json: Json = False,
    picture: Annotated[
        Path | None, typer.Option(help="Also make a 3D picture of it (PNG).", metavar="OUT.png")
    ] = None,
    units: Annotated[
        str | None, typer.Option(help="Show in mm or inch.", show_default="as the file")
    ] = None,
) -> None:
    """Check a part file and show its true areas: every skin, panel and face.

    Openings are taken off. Areas carry the tolerance the file states; what is counted and what is
    not stands below them.
    """
    spec, geometry = read_and_build(file)
    from mapper.job.partfile.show import shape_lines, shape_record
    from mapper.units import Units

    system = system_of(units, spec.units)
    if as_json:
        print(json.dumps(shape_record(spec, geometry), indent=2, ensure_ascii=False))
    else:
        for line in shape_lines(spec, geometry, Units(system)):
            print(line)
    if picture is not None:
        make_picture(geometry, picture, system)
        print(f"Picture: {picture}", file=sys.stderr)


def make_picture(geometry: Any, out: Path, system: str) -> None:
    """A 3D picture of one part with its map on it; MapperError where none can be made."""
    if out.suffix.lower() != ".png":
        raise MapperError(
            f"The picture {out} was asked for.", "A name that ends in .png is allowed."
        )
    if not out.absolute().parent.is_dir():
        raise MapperError(f"There is no folder {out.absolute().parent}.", "Make it first.")
    from mapper.drawing.scene import dress
    from mapper.drawing.scene import picture as render

    part = dress(geometry, units=system, ground=False)
    render([part], out, title=geometry.part, units=system)


@app.command()
def area(
    file: FileOrNone = None,
    part: StoredPart = "",
    skin: Annotated[str, typer.Option(help="Name of the skin.", show_default="the first")] = "",
    face: Annotated[str, typer.Option(help="Name of the face; both have the same area.")] = "",
    stations: Annotated[
        tuple[str, str] | None, typer.Option(help="From station A to B.", metavar="A B")
    ] = None,
    chord: Annotated[
        tuple[float, float] | None, typer.Option(help="From A to B % chord.", metavar="A B")
    ] = None,
    angles: Annotated[
        tuple[float, float] | None,
        typer.Option(
            help="Round a closed body, from A growing to B degrees from the top, outboard first.",
            metavar="A B",
        ),
    ] = None,
    side: Annotated[str, typer.Option(help="upper, lower or both.")] = "both",
    panel: Annotated[str, typer.Option(help="Name of a panel or bay.")] = "",
    circle: Annotated[
        tuple[str, str, str] | None,
        typer.Option(
            help="Circle seen in plan: X aft, Y outboard of the part's own zero, radius R;"
            " on the surface that --side names, or on both.",
            metavar="X Y R",
        ),
    ] = None,
    polygon: Annotated[
        Path | None,
        typer.Option(
            help="File of a polygon on the flat map: two columns x y, a blank line between rings"
            " (a ring inside another is a hole), or one WKT polygon; in mm, or in the unit (in,"
            " mm) that its first line says.",
            metavar="FILE",
        ),
    ] = None,
    units: Annotated[
        str | None,
        typer.Option(
            help="Units of A B X Y R and of the answer: mm or inch.",
            show_default="as the part file or the shop",
        ),
    ] = None,
    shop: Folder = None,
    job: InJob = "",
    as_json: Json = False,
) -> None:
    """The true area of a region of one face of one skin, openings taken off.

    Of a part file, or with --part of a part that the shop holds: mapper area --part RW-00.

    Everything said must hold at once: --stations 1200 2400 --chord 0 30 --side upper is the part
    of the upper surface between those stations and ahead of 30 % chord. Nothing said is the whole
    skin. Lengths are in the part file's units, or the shop's, unless --units or they say otherwise:
    "2 ft 6".
    """  # fmt: skip
    from mapper.cli.placing import NO_UNIT, told_twice
    from mapper.cli.reply import please_check, share_of_chord
    from mapper.job.partfile.reach import beyond
    from mapper.job.partfile.select import Selection, read_polygon, says_unit, skin_of
    from mapper.job.partfile.show import area_lines, area_record
    from mapper.units import Units

    if side not in ("upper", "lower", "both"):
        raise MapperError(f"--side {side} was given.", "upper, lower or both is allowed.")
    own, geometry = file_or_stored("area", file, part, shop, job)
    system = system_of(units, own)
    typed = Units(system)
    told_twice(stations, typed)
    mm = [typed.parse(text, "mm") for text in (*(stations or ()), *(circle or ()))]
    if polygon is not None and system == "inch" and not says_unit(polygon):
        please_check(NO_UNIT.format(polygon))
    share_of_chord(chord or ())
    selection = Selection(
        skin=skin,
        face=face,
        stations=None if stations is None else (mm[0], mm[1]),
        chord=chord,
        angles=angles,
        side=side,
        panel=panel,
        circle=None if circle is None else (mm[-3], mm[-2], mm[-1]),
        polygon=None if polygon is None else read_polygon(polygon),
    )
    if selection.stations is not None:
        words = beyond(skin_of(geometry, selection), selection.stations, typed)
        if words:
            please_check(words)
    if as_json:
        record = area_record(geometry, selection)
        record["units_of_arguments"] = "in" if system == "inch" else "mm"
        print(json.dumps(record, indent=2, ensure_ascii=False))
    else:
        for line in area_lines(geometry, selection, typed):
            print(line)


@app.command()
def keys(
    shape: Annotated[str, typer.Argument(help="A shape, as loft or tube; none lists them.")] = "",
    as_json: Annotated[bool, typer.Option("--json", help="As JSON.")] = False,
) -> None:
    """List every key a part file of one shape may have, with type, range and what it means."""
    from mapper.job.partfile.words import key_lines, key_rows, shape_lines

    if not shape:
        lines = shape_lines()
    elif as_json:
        lines = [json.dumps(key_rows(shape), indent=2, ensure_ascii=False)]
    else:
        lines = key_lines(shape)
    for line in lines:
        print(line)


@app.command()
def example(
    name: Annotated[str, typer.Argument(help="An example's name; none lists them.")] = "",
) -> None:
    """Print a worked part file to start from: mapper example loft > wing.toml"""
    from mapper.job.partfile.words import example as text_of
    from mapper.job.partfile.words import example_lines

    print(text_of(name).rstrip("\n") if name else "\n".join(example_lines()))
