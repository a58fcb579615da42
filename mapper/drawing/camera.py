"""Where a 3D picture is taken from: parallel projection, so that lengths can be compared."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from shapely import MultiPolygon

from mapper.drawing.mesh import placed
from mapper.drawing.view import (
    ON_CENTRE_LINE,
    hand_of,
    triangle_middles,
    triangle_normals,
    view_of,
)
from mapper.errors import MapperError
from mapper.surface.geometry import Geometry
from mapper.surface.skin import Skin

Array = NDArray[np.float64]

# Towards the camera, aircraft's frame (x aft, y right, z up). From aft, so that the writing on the
# maps, which has forward up on the upper side, stands upright.
VIEWS = {
    "above": (0.80, 0.36, 0.95),
    "below": (0.80, 0.36, -0.95),
    "front": (-1.0, 0.25, 0.28),
    "aft": (1.0, 0.25, 0.28),
    "right": (0.15, 1.0, 0.2),
    "left": (0.15, -1.0, 0.2),
}
CAMERAS = (*VIEWS, "auto")
# How much of a sheet must face one way for it to be looked at from there.
FLAT_ENOUGH = 0.9
# Share of the area along one axis from which a part is thin; and the cosine below which the view
# from above would show that axis's faces edge-on.
THIN, EDGEWISE = 0.6, 0.5
# Of the width of a picture, what a camera that looks at something fills with it.
FILLED = 0.92
# How much more than half a picture lies above or below what is looked at: its foot is kept free.
FOOT = 1.23
# Cosine beyond a right angle at which a triangle still counts as turned towards the camera.
EDGE_ON = 0.1
# Of the depth of what is looked at, what adds to its height.
DEPTH = 0.7
# Of a picture's width, how far the writing of an outline may reach into it from outside.
NEIGHBOURS = 0.06


@dataclass(frozen=True)
class Camera:
    """towards: from what is looked at to the camera, aircraft's frame; up: up on the picture.

    look_at, across: middle (aircraft's frame) and width, mm, of what is shown; None: all parts.
    """

    towards: tuple[float, float, float]
    up: tuple[float, float, float] = (0.0, 0.0, 1.0)
    look_at: tuple[float, float, float] | None = None
    across: float | None = None

    def axes(self) -> tuple[Array, Array, Array]:
        """Unit vectors to the right, up and towards the camera; MapperError where up is along the
        view."""
        back = np.asarray(self.towards, dtype=float)
        right = np.cross(np.asarray(self.up, dtype=float), back)
        if not np.isfinite(right).all() or np.linalg.norm(right) < 1e-6:
            raise MapperError(
                f"A camera towards {self.towards} with {self.up} as up.",
                "Both are finite and not along one line.",
            )
        back = back / np.linalg.norm(back)
        right = right / np.linalg.norm(right)
        return right, np.cross(back, right), back


def _middle_normal(geometry: Geometry, skin: Skin) -> tuple[Array, float]:
    normals = triangle_normals(skin) * hand_of(skin) @ geometry.placement.rotation.T
    total = normals.sum(axis=0)
    area = float(np.linalg.norm(normals, axis=1).sum())
    size = float(np.linalg.norm(total))
    return total / max(size, 1e-300), size / area


def is_flat(geometry: Geometry, skin: Skin) -> bool:
    """Whether a sheet faces one way, so that nothing of it hides the rest (rib, web, cover)."""
    return _middle_normal(geometry, skin)[1] > FLAT_ENOUGH


def camera_for(geometries: Sequence[Geometry], name: str, face: int = 0) -> Camera:
    """The camera of that name; "auto" looks at a flat part squarely, at a thin one that stands
    upright (fin, rudder, tab) from its side, at others from above.

    face: 0 for the face seen from outside, 1 for the other. MapperError naming the cameras.
    """
    if name not in CAMERAS:
        raise MapperError(f"No camera {name!r}.", f"Cameras are {', '.join(CAMERAS)}.")
    if name == "auto":
        if len(geometries) == 1:
            skin = geometries[0].skins[0]
            if is_flat(geometries[0], skin):
                normal, _ = _middle_normal(geometries[0], skin)
                return _square_on(geometries[0], skin, normal * (1 - 2 * face), face, tilt=0.35)
            beside = _from_the_side(geometries[0])
            if beside is not None:
                return beside
        name = "above"
    x, y, z = VIEWS[name]
    if name in ("above", "below", "front", "aft"):
        middle = np.mean([placed(g, s.points).mean(axis=0) for g in geometries for s in g.skins], 0)
        # A left-hand part is seen from its own side, as the right one is.
        y = y * (-1.0 if middle[1] < -ON_CENTRE_LINE else 1.0)
    return Camera((x, y, z))


def _from_the_side(geometry: Geometry) -> Camera | None:
    """Nearly square at the greatest face of a part that shows only its edge to the view from above;
    None for one that is seen well from there.

    The greatest face is the main axis of the normals, weighted by area, both ways of each alike.
    """
    turn = geometry.placement.rotation.T
    normals = np.concatenate([triangle_normals(skin) for skin in geometry.skins]) @ turn
    areas = np.maximum(np.linalg.norm(normals, axis=1), 1e-300)
    spread = np.einsum("ki,kj->ij", normals / areas[:, None], normals) / areas.sum()
    shares, axes = np.linalg.eigh(spread)
    main = axes[:, -1]
    above = np.asarray(VIEWS["above"])
    if shares[-1] < THIN or abs(main @ above) > EDGEWISE * np.linalg.norm(above):
        return None
    # From its own side of the aircraft, on the centre line from the right; else from aft.
    middle = np.mean(
        [placed(geometry, skin.points).mean(axis=0) for skin in geometry.skins], axis=0
    )
    own = (0.01, -1.0 if middle[1] < -ON_CENTRE_LINE else 1.0, 0.0)
    main = main if main @ np.asarray(own) >= 0 else -main
    return Camera(_triple(main + np.array([0.3, 0.0, 0.3])))


def _square_on(geometry: Geometry, skin: Skin, normal: Array, face: int, tilt: float) -> Camera:
    """Looking at a flat sheet along its normal, up as on its map, tilted towards the map's foot."""
    view = view_of(geometry, skin, skin.face_names[face])
    f = skin.flat - skin.flat.mean(axis=0)
    gradient, *_ = np.linalg.lstsq(f, skin.points - skin.points.mean(axis=0), rcond=None)
    up = gradient[1] * view.y @ geometry.placement.rotation.T
    side = gradient[0] * view.x @ geometry.placement.rotation.T
    towards = normal - tilt * up / np.linalg.norm(up) + 0.5 * tilt * side / np.linalg.norm(side)
    return Camera(_triple(towards), _triple(up))


def _triple(v: Array) -> tuple[float, float, float]:
    return float(v[0]), float(v[1]), float(v[2])


def look_at_region(
    geometry: Geometry, skin_name: str, face: str, region: MultiPolygon, *, margin: float = 0.25
) -> Camera:
    """A camera square to the middle of a region, from the side of that face, up as on its map.

    MapperError where no point of the sheet's mesh lies near the region (an empty region).
    """
    skin = geometry.skin(skin_name)
    number = skin.face_names.index(face) if face in skin.face_names else 0
    if region.is_empty:
        raise MapperError("An empty region to look at.", "A region on the sheet can be looked at.")
    x0, y0, x1, y1 = region.bounds
    middles = triangle_middles(skin)
    inside = ((middles >= [x0, y0]) & (middles <= [x1, y1])).all(axis=1)
    if not inside.any():
        inside = np.zeros(len(middles), dtype=bool)
        centre = np.array([(x0 + x1) / 2, (y0 + y1) / 2])
        inside[np.argmin(np.hypot(*(middles - centre).T))] = True
    normal = (triangle_normals(skin)[inside] * hand_of(skin)).sum(axis=0)
    normal = normal / max(float(np.linalg.norm(normal)), 1e-300) * (1 - 2 * number)
    corners = skin.triangles[inside].ravel()
    flat, space = skin.flat[corners], skin.points[corners]
    gradient, *_ = np.linalg.lstsq(flat - flat.mean(0), space - space.mean(0), rcond=None)
    view = view_of(geometry, skin, skin.face_names[number])
    turn = geometry.placement.rotation.T
    up = gradient[1] * view.y @ turn
    towards = normal @ turn - 0.3 * up / max(float(np.linalg.norm(up)), 1e-300)
    middle = placed(geometry, space.mean(axis=0)[None])[0]
    square = Camera(_triple(towards), _triple(up))
    # A panel that runs round a body is far longer laid flat than it looks; some of its depth shows
    # when it is looked at from a little above.
    wide, high, deep = np.ptp(placed(geometry, space) @ np.stack(square.axes()).T, axis=0)
    seen = max(wide, 1.6 * float(np.hypot(high, DEPTH * deep)))
    across = min(seen, max(x1 - x0, 1.6 * (y1 - y0))) * (1 + margin)
    return replace(square, look_at=_triple(middle), across=float(across))


def in_sight(
    geometry: Geometry, skin: Skin, camera: Camera, size: tuple[int, int], face: int = 0
) -> tuple[tuple[float, float, float, float], ...]:
    """What of a skin may be seen in a picture of `size` pixels by a camera that looks at something:
    boxes (x0, y0, x1, y1) on the flat map, one for each chart that has any; rather too large.

    face 0: of sheet turned towards the camera; 1: of all that lies in the picture. What hides what
    is not asked. () too for a camera that looks at the whole.
    """
    if camera.look_at is None or camera.across is None:
        return ()
    right, up, back = camera.axes()
    points = placed(geometry, skin.points) - np.asarray(camera.look_at)
    half = camera.across / 2 / FILLED
    reach = np.array([half, FOOT * half * size[1] / size[0]])
    screen = np.stack([points @ right, points @ up], axis=1)[skin.triangles]
    seen = ((screen.min(axis=1) <= reach) & (screen.max(axis=1) >= -reach)).all(axis=1)
    if face == 0:
        normals = triangle_normals(skin) * hand_of(skin) @ geometry.placement.rotation.T
        seen &= normals @ back >= -EDGE_ON * np.linalg.norm(normals, axis=1)
    edge = NEIGHBOURS * camera.across
    boxes = []
    for chart in skin.charts:
        mine = skin.triangles[chart.first : chart.last][seen[chart.first : chart.last]]
        if len(mine):
            flat = skin.flat[mine].reshape(-1, 2)
            low, high = flat.min(axis=0) - edge, flat.max(axis=0) + edge
            boxes.append((float(low[0]), float(low[1]), float(high[0]), float(high[1])))
    return tuple(boxes)
