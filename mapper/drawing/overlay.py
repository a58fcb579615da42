"""What is written over a 3D picture: arrows of true length with their words, and a title."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Polygon, box

from mapper.drawing.camera import Camera, is_flat
from mapper.drawing.display import DisplayList, View
from mapper.drawing.furniture import bar_length, bar_words
from mapper.drawing.grid import length_unit
from mapper.drawing.labels import Placer, Spot, text_box
from mapper.drawing.mesh import placed
from mapper.drawing.pad import Pad
from mapper.drawing.raster import Pixels, to_pixels
from mapper.drawing.shot import PictureJob
from mapper.drawing.text import fit, width_of
from mapper.drawing.view import ON_CENTRE_LINE
from mapper.surface.geometry import Geometry
from mapper.units import Units

Array = NDArray[np.float64]

# Shares of a picture's height kept free for title and arrows.
TOP, BOTTOM = 0.09, 0.25
# A picture is laid out as if it were this wide on paper, mm: sets the size of its words.
PAPER = 190.0
# Arrows shorter than this share of the longest one point at the reader and are left out.
SHORTEST = 0.2


def sideways(geometries: Sequence[Geometry]) -> tuple[str, float]:
    """The word for the direction along y and its sign: outboard, or right for a pair of sides."""
    middles = [placed(g, s.points).mean(axis=0)[1] for g in geometries for s in g.skins]
    signs = {float(np.sign(y)) for y in middles if abs(y) > ON_CENTRE_LINE}
    return ("outboard", signs.pop()) if len(signs) == 1 else ("right", 1.0)


def picture_axes(geometries: Sequence[Geometry], camera: Camera) -> tuple[tuple[str, Array], ...]:
    """(word, right and up on the picture per mm) of forward, outboard or right, and up."""
    right, up, _ = camera.axes()
    word, sign = sideways(geometries)
    axes = (("forward", (-1.0, 0, 0)), (word, (0, sign, 0)), ("up", (0, 0, 1.0)))
    return tuple((w, np.array([np.dot(axis, right), np.dot(axis, up)])) for w, axis in axes)


def draw_over(image: Pixels, job: PictureJob, camera: Camera, k: float) -> Pixels:
    """(H, W, 3) pixels with the writing on them. k: pixels per mm on the part."""
    high, wide = image.shape[:2]
    pad = Pad(View(), wide / PAPER)
    units = job.units.system if isinstance(job.units, Units) else job.units
    size = pad.size("bar") * 1.15
    margin = pad.gap("margin")
    axes = picture_axes([part.geometry for part in job.parts], camera)
    longest = max(float(np.hypot(*d)) for _, d in axes)
    # All of it, words above and below included, must stay in the foot of the picture.
    tall = float(np.ptp([0.0, *(d[1] for _, d in axes)]))
    room = min((BOTTOM * high - margin - 4.6 * size) / max(tall, 1e-9), 0.16 * wide / longest)
    length = bar_length(max(room, 8.0) / k, length_unit(units))
    arrows = [(w, d * length * k) for w, d in axes if np.hypot(*d) >= SHORTEST * longest]
    caption = f"each arrow {bar_words(length, length_unit(units))}"
    spots = _word_spots(arrows, size)
    boxes = [
        text_box(w, spot.at, size, 0.0, spot.anchor)
        for (w, _), spot in zip(arrows, spots, strict=True)
    ]
    heads = np.array([(0.0, 0.0), *(tuple(d) for _, d in arrows)])
    low = np.minimum(heads.min(axis=0), np.min([b.bounds[:2] for b in boxes], axis=0))
    top = np.maximum(heads.max(axis=0), np.max([b.bounds[2:] for b in boxes], axis=0))
    start = np.array([margin, margin + size * 1.6]) - low
    right = max(margin + width_of(caption, size), float(top[0] + start[0]))
    if camera.look_at is not None:
        # Paper behind the arrows: such a picture is filled to its edges.
        pad.fill(box(0, 0, right + margin, float(top[1] + start[1]) + margin), "paper", "bar")
    for (word, d), spot in zip(arrows, spots, strict=True):
        _arrow(pad, start, d)
        at = (float(start[0] + spot.at[0]), float(start[1] + spot.at[1]))
        pad.label(word, Spot(at, anchor=spot.anchor), size, "bar")
    pad.label(caption, Spot((margin, margin + size * 0.5), anchor="start"), size, "bar")
    if job.face == "inner":
        flat = all(is_flat(p.geometry, skin) for p in job.parts for skin in p.geometry.skins)
        note = "the other face" if flat else "near skin left out: inner faces shown"
        at = (wide - margin, margin + size * 0.5)
        if width_of(note, size) + width_of(caption, size) < wide - 4 * margin:
            pad.label(note, Spot(at, anchor="end"), size, "bar")
    if job.title:
        big = pad.size("title")
        title = fit(job.title, big, wide - 2 * margin, bold=True)
        spot = Spot((margin, high - margin - big * 0.6), anchor="start")
        pad.label(title, spot, big, "title", bold=True)
    bounds = (0.0, 0.0, float(wide), float(high))
    drawing = DisplayList(tuple(pad.items), bounds, bounds, pad.scale)
    return _laid_over(image, to_pixels(drawing, 1.0, background=None))


def _laid_over(image: Pixels, over: Pixels) -> Pixels:
    """Pixels (H, W, 3) under others (H, W, 4) that are mostly clear: mixed only where they are not,
    which is a fiftieth of the picture."""
    mixed = np.array(image, dtype=np.uint8)
    rows, columns = np.nonzero(over[..., 3])
    top = over[rows, columns].astype(float)
    share = top[:, 3:] / 255
    below = mixed[rows, columns] * (1 - share)
    mixed[rows, columns] = (below + top[:, :3] * share).round().astype(np.uint8)
    return mixed


def _word_spots(arrows: Sequence[tuple[str, Array]], size: float) -> list[Spot]:
    """Where the word of each arrow from (0, 0) stands: beyond its head, or beside it where another
    word or arrow is in the way."""
    placer = Placer()
    for _, d in arrows:
        placer.take(LineString([(0, 0), tuple(d * 0.96)]).buffer(0.3 * size))
    spots = []
    for word, d in arrows:
        way = d / max(float(np.hypot(*d)), 1e-12)
        tries = []
        for far in (0.95, 1.6, 2.4):
            for turn in (0.0, 0.7, -0.7, 1.3, -1.3):
                cos, sin = np.cos(turn), np.sin(turn)
                out = np.array([cos * way[0] - sin * way[1], sin * way[0] + cos * way[1]])
                x, y = (d + out * size * far).tolist()
                side = "middle" if abs(out[0]) < 0.35 else ("start" if out[0] > 0 else "end")
                tries.append(Spot((x, y), anchor=side))
        spots.append(placer.place(word, size, tries) or tries[0])
    return spots


def _arrow(pad: Pad, start: Array, d: Array) -> None:
    """A shaft and a head; the whole is as long as d says, so that it can be measured."""
    tip = start + d
    way = d / max(float(np.hypot(*d)), 1e-12)
    neck = tip - way * min(pad.mm(2.6), float(np.hypot(*d)) * 0.5)
    across = np.array([-way[1], way[0]]) * pad.mm(0.9)
    side = np.array([-way[1], way[0]]) * pad.mm(0.22)
    pad.fill(Polygon([start - side, neck - side, neck + side, start + side]), "bar", "bar")
    pad.fill(Polygon([tip, neck + across, neck - across]), "bar", "bar")
