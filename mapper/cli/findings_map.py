"""`mapper findings-map PART`: where findings lie close, on the flat map and in a 3D picture."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from mapper.cli.desk import Desk, Folder, InJob
from mapper.cli.main import app
from mapper.errors import MapperError


@app.command("findings-map")
def findings_map(
    part: Annotated[str, typer.Argument(help="The part: tag code, name or id.")],
    out: Annotated[
        Path | None,
        typer.Argument(help="Write the map here (.svg or .png); else words only.", metavar="FILE"),
    ] = None,
    picture: Annotated[
        Path | None,
        typer.Option(
            help="Also make a 3D picture of the part wearing it (PNG).", metavar="OUT.png"
        ),
    ] = None,
    skin: Annotated[str, typer.Option(help="Name of the skin.", show_default="the first")] = "",
    face: Annotated[
        str, typer.Option(help="Name of the face.", show_default="the first, seen from outside")
    ] = "",
    width: Annotated[
        str,
        typer.Option(
            help='How far each finding is spread, as in "200 mm".',
            show_default="the setting corrosion.width, or 150 mm",
        ),
    ] = "",
    by: Annotated[
        str,
        typer.Option(help="count: findings per area looked at; area: the share outlined."),
    ] = "count",
    what: Annotated[str, typer.Option(help="Only findings of this sort, such as corrosion.")] = "",
    shop: Folder = None,
    job: InJob = "",
) -> None:
    """Where findings lie close: a smoothed map of one face, per area looked at.

    Each finding is spread along the sheet, round the nose, never through it nor over an opening or
    a trailing edge. Steps are as wide as chance is. Where nobody looked it says so; that is never
    zero.
    """
    from mapper.corrosion.mapwords import sentences, step
    from mapper.corrosion.smoothed import smoothed_findings
    from mapper.job.kinds import KINDS

    for file, endings in ((out, (".svg", ".png")), (picture, (".png",))):
        check_file(file, endings)
    sorts = next(f.choices for f in KINDS["finding"].fields if f.name == "what")
    if what and what not in sorts:
        raise MapperError(f"No finding is called {what!r}.", f"Sorts: {', '.join(sorts)}.")
    with Desk(shop, job) as desk:
        owner, units = desk.find("part", part), desk.units
        geometry = desk.book.geometry_of(owner.id)
        if geometry is None:
            raise MapperError(f"{owner.name} has no shape.", "A part with a shape can be mapped.")
        sheet = geometry.skin(skin) if skin else geometry.skins[0]
        smoothed = smoothed_findings(
            desk.book, owner.id, sheet.name, face or sheet.face_names[0],
            width=units.parse(width, "mm") if width else None, by=by, what=what or None,
        )  # fmt: skip
    print(f"{owner.name}, {sheet.name}, {smoothed.face} face")
    for band in smoothed.bands:
        print(f"  {step(band, by, units)}: {share(smoothed, band)}")
    for line in sentences(smoothed, units):
        print(line)
    if out is not None:
        write_map(geometry, smoothed, owner.name, units, out)
        print(out)
    if picture is not None:
        from mapper.drawing.scene import picture as render
        from mapper.drawing.smoothed import dress_smoothed

        side = "outer" if smoothed.face == sheet.face_names[0] else "inner"
        render([dress_smoothed(geometry, [smoothed], units=units)], picture,
               face=side, title=owner.name, units=units)  # fmt: skip
        print(picture)


def check_file(file: Path | None, endings: tuple[str, ...]) -> None:
    """MapperError for a file of another ending, or in a folder that is not there."""
    if file is None:
        return
    if file.suffix.lower() not in endings:
        raise MapperError(
            f"The file {file} was asked for.", f"A name that ends in {' or '.join(endings)}."
        )
    if not file.absolute().parent.is_dir():
        raise MapperError(f"There is no folder {file.absolute().parent}.", "Make it first.")


def share(smoothed, band) -> str:
    """The true area of a step, of all that has a value."""
    from mapper.surface.measure import area

    whole = area(smoothed.skin, smoothed.shown)
    return f"{100 * area(smoothed.skin, band.region) / whole:.0f} % of what was looked at"


def write_map(geometry, smoothed, name: str, units, out: Path) -> None:
    """The flat map as an SVG, or as a PNG of ten pixels per mm on paper."""
    from mapper.drawing.smoothed import draw_smoothed

    drawing = draw_smoothed(geometry, smoothed, units=units, title=name)
    if out.suffix.lower() == ".svg":
        from mapper.drawing.svg import to_svg

        out.write_text(to_svg(drawing), "utf-8")
        return
    from PIL import Image

    from mapper.drawing.raster import to_pixels

    pixels = to_pixels(drawing, 10.0 / drawing.scale)
    Image.fromarray(pixels[..., :3]).save(out)
