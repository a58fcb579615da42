"""Panels between seams and bays between ribs and spars, each with a name."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import MultiLineString, MultiPolygon, Point

from mapper.job.partfile.bodykeys import BODIES
from mapper.job.partfile.holes import skin_named
from mapper.job.partfile.keytables import WHOLE
from mapper.job.partfile.naming import bay_words, extent, panel_words, unique
from mapper.job.partfile.partsheet import PartSheet
from mapper.job.partfile.spec import PanelSpec, PartSpec, RibSpec, SparSpec
from mapper.job.partfile.values import SCALE
from mapper.surface.geometry import Bay, MapLine, Opening, Panel
from mapper.surface.panels import cut_by_lines
from mapper.surface.place import flat_of
from mapper.surface.region import difference, union, whole
from mapper.surface.round import flat_at_angle
from mapper.surface.skin import Skin

# A seam counts as cutting where its middle lies this near (mm) to the edge of a piece.
_NEAR = 0.01


def panels_of(
    spec: PartSpec,
    sheets: tuple[PartSheet, ...],
    skins: tuple[Skin, ...],
    openings: tuple[Opening, ...],
    lines: tuple[MapLine, ...],
) -> tuple[Panel, ...]:
    """Every panel of every skin, openings taken off; PartFileError for a seam that cuts nothing, a
    panel named off the sheet, and a second name for one sheet."""
    found: list[Panel] = []
    rows: dict[str, list[PanelSpec]] = {skin.name: [] for skin in skins}
    for row in spec.panel:
        rows[skin_named(spec, row.path, row.skin, skins).name].append(row)
    for sheet, skin in zip(sheets, skins):
        seams = [line for line in lines if line.kind == "seam" and line.skin == skin.name]
        cells = _cells(skin, [s.flat for s in seams])
        _check_seams(spec, skin, seams, cells)
        open_here = _open(openings, skin)
        named = _named(spec, skin, cells, rows[skin.name])
        words = _words(spec, sheet, skin, cells, tuple(row.name for row in rows[skin.name]))
        for i, cell in enumerate(cells):
            flat = difference(cell, open_here) if not open_here.is_empty else cell
            where = extent(skin, cell)
            owner = named.get(i)
            side = where.side if spec.shape in WHOLE and sheet.row is None else ""
            found.append(_panel(spec, sheet, skin, flat, owner, words[i], side))
    return tuple(found)


def _cells(skin: Skin, lines: Sequence[MultiLineString]) -> tuple[MultiPolygon, ...]:
    return cut_by_lines(skin, list(lines)) if lines else (whole(skin),)


def _open(openings: tuple[Opening, ...], skin: Skin) -> MultiPolygon:
    shapes = [o.flat for o in openings if o.skin == skin.name]
    return union(*shapes) if shapes else MultiPolygon()


def _check_seams(
    spec: PartSpec, skin: Skin, seams: list[MapLine], cells: tuple[MultiPolygon, ...]
) -> None:
    """A seam must end on other seams or edges, or it makes no panels and nobody would notice."""
    edges = shapely.union_all([shapely.boundary(cell) for cell in cells])
    for row, seam in zip(spec.seam, seams):
        middles = [piece.interpolate(0.5, normalized=True) for piece in seam.flat.geoms]
        if all(edges.distance(middle) <= _NEAR for middle in middles):
            continue
        limits = [k for k in ("from_chord", "to_chord", "from_station", "to_station")
                  if getattr(row, k) is not None]  # fmt: skip
        raise spec.error(
            (*row.path, limits[0] if limits else "name"),
            f'the seam "{seam.name}" ends in the middle of a sheet and cuts nothing off;',
            "a seam from edge to edge, or to another seam, is allowed.",
            "Let it end at the % chord or station of the seam it meets.",
        )


def _named(
    spec: PartSpec, skin: Skin, cells: tuple[MultiPolygon, ...], rows: list[PanelSpec]
) -> dict[int, PanelSpec]:
    named: dict[int, PanelSpec] = {}
    for row in rows:
        at = _place(row, skin)
        if at is None:
            index = 0
        else:
            inside = [i for i, cell in enumerate(cells) if cell.distance(at) < 1e-6]
            if not inside:
                raise spec.error(
                    (*row.path, "at" if row.at is not None else "station"),
                    "the place lies off the sheet;",
                    "a place on the panel is allowed.",
                    "Measure it again.",
                )
            index = inside[0]
        if index in named:
            raise spec.error(
                (*row.path, "name"),
                f'"{row.name}" and "{named[index].name}" name the same sheet;',
                "one name for each sheet is allowed.",
                "Move one place to the other side of a seam, add the seam, or take one out.",
            )
        named[index] = row
    return named


def _place(row: PanelSpec, skin: Skin) -> Point | None:
    if row.at is not None:
        return Point(row.at[0], -row.at[1] if skin.mirrored else row.at[1])
    if row.station is not None and row.angle is not None:
        flat = flat_at_angle(skin, row.station, row.angle)[0]
        return Point(flat) if np.isfinite(flat).all() else Point(np.inf, np.inf)
    if row.station is None or row.chord is None:
        return None
    upper = np.array([row.side != "lower"])
    flat = flat_of(skin, np.array([row.station]), np.array([row.chord]), upper)[0]
    return Point(flat) if np.isfinite(flat).all() else Point(np.inf, np.inf)


def _words(
    spec: PartSpec,
    sheet: PartSheet,
    skin: Skin,
    cells: tuple[MultiPolygon, ...],
    taken: tuple[str, ...],
) -> list[str]:
    if sheet.row is not None or spec.shape not in (*WHOLE, *BODIES) or len(cells) == 1:
        names = [skin.name if len(cells) == 1 and skin.name != "skin" else "whole skin"] * len(
            cells
        )
    else:
        whole_extent = extent(skin, whole(skin))
        scale = SCALE[spec.units]
        names = [panel_words(extent(skin, cell), whole_extent, scale) for cell in cells]
    return unique([*taken, *names])[len(taken) :]


def _panel(
    spec: PartSpec,
    sheet: PartSheet,
    skin: Skin,
    flat: MultiPolygon,
    row: PanelSpec | None,
    words: str,
    side: str,
) -> Panel:
    base = spec.sheet
    own = sheet.row if isinstance(sheet.row, RibSpec | SparSpec) else None

    def pick(name: str) -> object:
        said = getattr(row, name) if row is not None else None
        web = getattr(own, name, None) if own is not None and said is None else None
        return said if said is not None else (web or getattr(base, name))

    # How a gauge is known goes with the row that gives it.
    owners = [one for one in (row, own, base) if one is not None and one.gauge is not None]
    gauge = owners[0].gauge if owners else None
    return Panel(
        name=row.name if row is not None else words,
        skin=skin.name,
        flat=flat,
        alloy=str(pick("alloy")),
        gauge=gauge,
        cladding=str(pick("cladding")),
        thin=bool(pick("thin")),
        side=side,
        gauge_how=(owners[0].gauge_how or "nominal") if owners else "",
    )


def bays_of(
    spec: PartSpec, skin: Skin, openings: tuple[Opening, ...], lines: tuple[MapLine, ...]
) -> tuple[Bay, ...]:
    """Every bay of the main skin, openings taken off; none where there is no rib and no spar."""
    bounds = [line.flat for line in lines if line.kind in ("rib", "spar")]
    if not bounds:
        return ()
    cells = cut_by_lines(skin, bounds)
    all_of_it = extent(skin, whole(skin))
    ribs = [(row.name, row.station) for row in spec.rib]
    spars = [(row.name, row.chord) for row in spec.spar]
    names = unique(bay_words(extent(skin, cell), all_of_it, ribs, spars) for cell in cells)
    taken = _open(openings, skin)
    return tuple(
        Bay(name, skin.name, difference(cell, taken) if not taken.is_empty else cell)
        for name, cell in zip(names, cells)
    )
