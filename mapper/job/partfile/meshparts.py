"""From a part file that names a mesh to a geometry version: read, mended, aligned, laid flat."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon

from mapper.errors import MapperError
from mapper.job.partfile.meshkeys import MESHES
from mapper.job.partfile.placing import attached_to, placement_of
from mapper.job.partfile.spec import PartSpec
from mapper.late import Late
from mapper.surface.build import mirror
from mapper.surface.geometry import Geometry, Opening, Panel, Tolerance
from mapper.surface.imported.align import Alignment, align
from mapper.surface.imported.read import UNITS, RawMesh, check_length, read_mesh
from mapper.surface.region import difference, union, whole
from mapper.surface.skin import Skin

if TYPE_CHECKING:
    from mapper.surface.imported import build as made
    from mapper.surface.imported import mend as mending
else:
    # numba and igl are slow to load, and only a mesh needs them.
    made = Late("mapper.surface.imported.build")
    mending = Late("mapper.surface.imported.mend")


def mesh_geometry(spec: PartSpec) -> Geometry:
    """The geometry version of a mesh's part file, each connected body a skin, each skin a panel.

    PartFileError with line and key where the file is no mesh, its length does not fit, or the
    landmarks settle nothing.
    """
    raw, length = _read(spec)
    try:
        mesh = mending.mend(raw)
        found = made.skins_of(
            mesh,
            face_names=spec.faces or ("outer", "inner"),
            axis=str(spec.own.get("station_axis", "y")),
            datum=spec.datum,
            crease=spec.own.get("crease"),
        )
    except MapperError as error:
        raise spec.error(("mesh_file",), error.given, error.allowed, error.to_do) from error
    found, placed = _aligned(spec, found)
    skins = found.skins
    openings = found.openings
    if spec.mirrored:
        skins = tuple(mirror(s) for s in skins)
        flip = np.array([1.0, -1.0])
        openings = tuple(replace(o, flat=_flipped(o.flat, flip)) for o in openings)
    sentences = [MESHES[spec.shape].counted, *mesh.defects, *length]
    if mesh.volume is not None:
        sentences.append(f"The mesh is closed; it holds {mesh.volume / 1e9:.6g} m³.")
    if placed is not None:
        sentences.append(placed.words())
    sentences.append(
        f"On the flat map no triangle's area is off by more than {100 * found.worst:.1f} %; areas "
        "are right all the same."
    )
    measured = spec.measured
    date = measured.date.isoformat() if measured.date else ""
    return Geometry(
        part=spec.part,
        shape=spec.shape,
        skins=skins,
        tolerance=Tolerance(
            measured.how,
            measured.tolerance,
            ", ".join(w for w in (measured.by, date, measured.note) if w),
        ),
        placement=placement_of(spec),
        panels=tuple(_panel(spec, skin, openings) for skin in skins),
        openings=openings,
        station_axis=f"{spec.own.get('station_axis', 'y')} axis",
        datum=spec.datum,
        mirrored=spec.mirrored,
        bearings_inside=spec.bearings_inside,
        attached_to=attached_to(spec),
        counted=tuple(sentences),
    )


def _read(spec: PartSpec) -> tuple[RawMesh, list[str]]:
    unit = str(spec.own["mesh_unit"])
    try:
        raw = read_mesh(spec.folder / str(spec.own["mesh_file"]), unit)
    except MapperError as error:
        raise spec.error(("mesh_file",), error.given, error.allowed, error.to_do) from error
    if "known_length" not in spec.own:
        return raw, []
    one, other = (np.array(spec.own[key]) * UNITS[unit] for key in ("known_from", "known_to"))
    try:
        return raw, [check_length(raw, one.tolist(), other.tolist(), spec.own["known_length"])]
    except MapperError as error:
        raise spec.error(("known_length",), error.given, error.allowed, error.to_do) from error


def _aligned(spec: PartSpec, found: made.Imported) -> tuple[made.Imported, Alignment | None]:
    rows = spec.own.get("landmark", ())
    if not rows:
        return found, None
    size = UNITS[str(spec.own["mesh_unit"])]
    scan = {row["name"]: (np.array(row["in_mesh"]) * size).tolist() for row in rows}
    part = {row["name"]: row["on_part"] for row in rows}
    try:
        placed = align(scan, part)
    except MapperError as error:
        raise spec.error(("landmark",), error.given, error.allowed, error.to_do) from error
    return made.moved(found, placed.origin, placed.rotation), placed


def _panel(spec: PartSpec, skin: Skin, openings: tuple[Opening, ...]) -> Panel:
    flat = whole(skin)
    here = [o.flat for o in openings if o.skin == skin.name]
    row = next((p for p in spec.panel if p.skin in ("", skin.name)), None)
    base = spec.sheet

    def pick(name: str) -> Any:
        said = getattr(row, name) if row is not None else None
        return said if said is not None else getattr(base, name)

    return Panel(
        name=row.name if row is not None else f"all of {skin.name}",
        skin=skin.name,
        flat=difference(flat, union(*here)) if here else flat,
        alloy=pick("alloy") or "",
        gauge=pick("gauge"),
        cladding=pick("cladding") or "",
        thin=bool(pick("thin")),
        gauge_how=pick("gauge_how") or "",
    )


def _flipped(flat: MultiPolygon, flip: NDArray[np.float64]) -> MultiPolygon:
    return MultiPolygon(shapely.transform(flat, lambda p: p * flip))
