"""3D pictures of parts and panels: those that are not there yet are rendered in one go."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from shapely import MultiPolygon, box, contains_xy, union_all

from mapper.drawing.view import triangle_middles, triangle_normals
from mapper.estimate.regions import WHOLE
from mapper.job.entry import Entry
from mapper.job.records import Part
from mapper.late import Late
from mapper.report.cache import Cache, key_of
from mapper.report.figures import Drawn, MapWish, near, numbers_key
from mapper.report.lookup import Lookup, Sheet
from mapper.report.piles import Pile, labels_of, piles_on
from mapper.surface.geometry import Geometry

# What renders brings matplotlib, which most reports of a job already drawn do without.
if TYPE_CHECKING:
    from mapper.drawing import camera, mesh, scene
else:
    camera, scene = Late("mapper.drawing.camera"), Late("mapper.drawing.scene")
    mesh = Late("mapper.drawing.mesh")

# As large as they are printed, at about 280 pixels an inch.
PART_SIZE = (1100, 704)
SHEET_SIZE = (750, 480)
RAISED = 0.7  # of the view on a panel that runs round an edge, over its length
LEVEL = 0.3  # a direction that falls by less of its length is level
STRAIGHT = 0.8  # of a panel that can be looked at square
TEXTURE = 1800  # pixels along a sheet: enough for the sizes above
WITHOUT = (
    "This report has no 3D pictures: the machine it was made on cannot render them (they need EGL "
    "with a software renderer, or a graphics card). The flat maps show all that is recorded."
)
NOT_ASKED = "This report was asked for without 3D pictures."


@dataclass(frozen=True)
class Wanted:
    """One picture, of a part (sheet None) or of one panel. face: 0 seen from outside, 1 inside."""

    part: Part
    geometry: Geometry
    face: int
    entries: tuple[Entry, ...]
    sheet: Sheet | None = None
    bent: bool = False  # a panel that runs round an edge
    map: MapWish | None = None  # of a part that is one panel: what it wears is its map

    @property
    def words(self) -> str:
        """What the picture shows, for those who cannot see it."""
        side = "from outside" if self.face == 0 else "from inside"
        if self.sheet is None:
            return f"{self.part.name}, seen {side}, with its map on it."
        if self.bent:
            return (
                f"{self.sheet.name}, on the part. It runs round an edge, seen here from before it."
            )
        return f"{self.sheet.name}, on the part, seen square to its middle."

    def key(self, numbers: Mapping[str, str], units: str, cache: Cache | None = None) -> str:
        """What it is found again by. cache: where what it may show is kept for its shape."""
        sheet = None if self.sheet is None else (self.sheet.skin.name, self.sheet.title, self.bent)
        seen = self.seen(cache)
        labels = {e.id: numbers[e.id] for e in seen}
        return key_of(
            "picture", self.part.geometry, self.face, sheet, units, labels, numbers_key(seen)
        )

    @property
    def size(self) -> tuple[int, int]:
        """Pixels across and down."""
        small = self.sheet is not None or len(self.geometry.panels) < 2
        return SHEET_SIZE if small else PART_SIZE

    @cached_property
    def camera(self) -> camera.Camera | str:
        """Where it is taken from."""
        if self.sheet is None:
            return "auto"
        sheet = self.sheet
        square = camera.look_at_region(self.geometry, sheet.skin.name, sheet.face, sheet.region)
        return from_above(square) if self.bent else square

    def windows(self, cache: Cache | None) -> Mapping[str, Sequence[Sequence[float]]]:
        """What of each skin may be seen in the picture of a panel: boxes on its flat map."""
        sheet = self.sheet
        if sheet is None:
            return {}

        def made() -> dict[str, list[tuple[float, ...]]]:
            taken = self.camera
            return {} if isinstance(taken, str) else {
                skin.name: list(camera.in_sight(self.geometry, skin, taken, self.size, self.face))
                for skin in self.geometry.skins
            }  # fmt: skip

        if cache is None:
            return made()
        where = (sheet.skin.name, sheet.panel, sheet.face, self.bent, self.size)
        found: dict[str, list[list[float]]] = cache.value(
            key_of("in sight", self.part.geometry, where), made
        )
        return found

    def seen(self, cache: Cache | None = None) -> tuple[Entry, ...]:
        """The entries that can lie in the picture: all of the part's, or those of the sheet before
        its camera; so a change on one panel does not make the pictures of all the others anew."""
        if self.sheet is None:
            return self.entries
        windows = {
            name: union_all([box(*b) for b in boxes]) for name, boxes in self.windows(cache).items()
        }
        return tuple(
            e
            for e in self.entries
            if e.outline and windows[e.outline.skin].intersects(e.outline.shape)
        )


def wanted(lookup: Lookup) -> tuple[Wanted, ...]:
    """A picture of each part for each face that has entries (the outer one always), and one of each
    panel and face; none for parts without a shape."""
    found: list[Wanted] = []
    for part in lookup.book.parts:
        geometry = lookup.geometry(part)
        if geometry is None:
            continue
        drawn = [pile[0] for pile in piled(lookup, part, geometry)]
        for face in range(max(len(s.face_names) for s in geometry.skins)):
            names = {
                (s.name, s.face_names[face]) for s in geometry.skins if face < len(s.face_names)
            }
            here = tuple(e for e in drawn if (e.outline.skin, e.outline.face) in names)
            if here or face == 0:
                found.append(Wanted(part, geometry, face, here, map=_only_map(lookup, part, names)))
            if len(geometry.panels) < 2:
                continue  # the picture of the part is that of its panel
            # A panel's picture shows its neighbours too, so all that is on the face is drawn.
            found += [
                Wanted(part, geometry, face, here, sheet, is_bent(sheet))
                for sheet in lookup.sheets(part)
                if (sheet.skin.name, sheet.face) in names and not sheet.region.is_empty
                if lookup.on_sheet(sheet, here)
            ]
    return tuple(found)


def _only_map(lookup: Lookup, part: Part, names: set[tuple[str, str]]) -> MapWish | None:
    """The map of the one panel that a part is on that face, where its page has it; else None."""
    sheets = [s for s in lookup.sheets(part) if (s.skin.name, s.face) in names]
    entries = lookup.entries(part)
    if len(sheets) != 1 or not (on := lookup.on_sheet(sheets[0], entries)):
        return None
    return MapWish(sheets[0], entries, lookup.number, lookup.book.shop.units, numbered=on)


def piled(lookup: Lookup, part: Part, geometry: Geometry) -> tuple[Pile, ...]:
    """The entries with an outline on a part as its pictures show them, repeated work once."""
    found: list[Pile] = []
    for skin in geometry.skins:
        for face in skin.face_names:
            whole = Sheet(part, geometry, skin, WHOLE, face, MultiPolygon())
            found += piles_on(whole, near(whole, lookup.entries(part)))
    return tuple(sorted(found, key=lambda pile: int(lookup.number[pile[0].id])))


def labels_in_pictures(lookup: Lookup) -> dict[str, str]:
    """The text at each entry in a picture: its number, or those of all the work at that place."""
    labels = dict(lookup.number)
    for part in lookup.book.parts:
        geometry = lookup.geometry(part)
        if geometry is not None:
            labels |= labels_of(piled(lookup, part, geometry), lookup.number)
    return labels


@lru_cache(maxsize=1024)
def is_bent(sheet: Sheet) -> bool:
    """Whether a panel runs round an edge, so that no one view is square to it."""
    skin = sheet.skin
    inside = contains_xy(sheet.region, triangle_middles(skin))
    normals = triangle_normals(skin)[inside]
    lengths = np.linalg.norm(normals, axis=1).sum()
    together = float(np.linalg.norm(normals.sum(axis=0)))
    return not len(normals) or together < STRAIGHT * float(lengths)


def from_above(square: camera.Camera) -> camera.Camera:
    """The camera on a panel that runs round an edge: from its middle up to where its upper half is
    seen, so that the writing stands as on the map. One that faces down is seen from below."""
    x, y, z = (np.asarray(square.towards) / np.linalg.norm(square.towards)).tolist()
    return replace(square, towards=(x, y, z + (RAISED if z > -LEVEL else -RAISED)))


def render(
    wishes: Sequence[Wanted],
    numbers: Mapping[str, str],
    units: str,
    cache: Cache,
    step: Callable[[int, int], None],
) -> tuple[dict[tuple[str, int, str, str], Drawn], tuple[str, ...]]:
    """Pictures by (part id, face, skin, panel), and what is to be said of those there are not.

    step(done, total) after each. Where this machine cannot render, those kept from before stay.
    """
    keys = [w.key(numbers, units, cache) for w in wishes]
    todo = [i for i, key in enumerate(keys) if not cache.has(key, ".jpg")]
    lost: tuple[str, ...] = ()
    done = len(wishes) - len(todo)
    step(done, len(wishes))
    if todo:
        # Not probed first: the probe would load the libraries once more, for seconds.
        try:
            _render([wishes[i] for i in todo], [keys[i] for i in todo], numbers, units, cache,
                    lambda n: step(done + n, len(wishes)))  # fmt: skip
        except scene.NoPictures as error:
            lost = (f"{WITHOUT} ({error.given})",)
    found = {}
    for wish, key in zip(wishes, keys, strict=True):
        if cache.has(key, ".jpg"):
            sheet = wish.sheet
            where = (sheet.skin.name, sheet.panel) if sheet else ("", "")
            found[wish.part.id, wish.face, *where] = Drawn(cache.path(key, ".jpg"), wish.words)
    return found, lost


def _worn(wish: MapWish, cache: Cache) -> scene.ScenePart:
    """A part of one panel in its map, which is drawn once for the page and for the picture."""

    def made() -> mesh.Texture:
        wish.drawn(cache)
        return mesh.texture_of(wish.drawing, PART_SIZE[0])

    sheet = wish.sheet
    return scene.ScenePart(sheet.geometry, mesh.Textures({(sheet.skin.name, sheet.face): made}))


def _render(
    wishes: list[Wanted],
    keys: list[str],
    numbers: Mapping[str, str],
    units: str,
    cache: Cache,
    step: Callable[[int], None],
) -> None:
    """Renders them all in one process and keeps each as soon as it is there."""
    dressed: dict[tuple[object, ...], scene.ScenePart] = {}
    with tempfile.TemporaryDirectory(prefix="pictures-") as name:
        jobs = []
        for i, wish in enumerate(wishes):
            look = (wish.part.id, wish.face, tuple(e.id for e in wish.entries))
            if look not in dressed and wish.map is not None:
                dressed[look] = _worn(wish.map, cache)
            elif look not in dressed:
                dressed[look] = scene.dress(
                    wish.geometry,
                    wish.entries,
                    units=units,
                    numbers=numbers,
                    faces=(wish.face,),
                    side=TEXTURE if len(wish.geometry.panels) > 1 else PART_SIZE[0],
                )
            jobs.append(
                scene.PictureJob(
                    (dressed[look],),
                    Path(name) / f"{i}.jpg",
                    wish.size,
                    wish.camera,
                    "outer" if wish.face == 0 else "inner",
                    units=units,
                )
            )

        def keep(number: int, path: Path) -> None:
            cache.file(keys[number], ".jpg", path.replace)
            step(number + 1)

        scene.pictures(jobs, on_done=keep)
