"""3D pictures: what is where, on both hands and faces; and a clear word where none can be made."""

from __future__ import annotations

import sys
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image
from shapely import MultiPolygon, Polygon, box

from mapper.drawing import scene
from mapper.drawing.camera import Camera, camera_for, look_at_region
from mapper.drawing.contact import sheet
from mapper.drawing.mesh import ScenePart, mesh_of, placed
from mapper.drawing.overlay import picture_axes, sideways
from mapper.drawing.scene import NoPictures, PictureJob, dress, picture, pictures
from mapper.drawing.view import triangle_normals
from mapper.errors import MapperError
from mapper.job.partfile.build import build
from mapper.job.partfile.read import read_text
from mapper.surface.place import flat_of, normal_of
from tests.drawing.hand import SKIN, entry, multi

SIZE = (640, 400)


def patch(geometry, upper=True, face="outer", kind="finding"):
    """A large finding near the tip."""
    at = flat_of(geometry.skins[0], [3500, 3900, 3900, 3500], [25, 25, 70, 70], upper)
    return entry(1, kind, multi(Polygon(at)), face=face)


def red(path):
    """Columns and rows of the pixels that have the colour of findings, and their share."""
    pixels = np.asarray(Image.open(path).convert("RGB")).astype(int)
    mask = (pixels[..., 0] - pixels[..., 1] > 60) & (pixels[..., 0] - pixels[..., 2] > 60)
    rows, columns = np.where(mask)
    return columns, rows, mask.mean()


@pytest.fixture(scope="module")
def shots(right, left, renderer, tmp_path_factory):
    folder = tmp_path_factory.mktemp("shots")
    both = {}
    for name, geometry in (("right", right), ("left", left)):
        marked = [patch(geometry), patch(geometry, upper=False, face="inner", kind="finding")]
        both[name] = dress(geometry, marked, numbers={}, side=900)
    jobs = [
        PictureJob([both["right"]], folder / "right.png", SIZE, "above", title="$right$"),
        PictureJob([both["right"]], folder / "below.png", SIZE, "below"),
        PictureJob([both["right"]], folder / "inner.png", SIZE, "above", "inner"),
        PictureJob([both["left"]], folder / "left.png", SIZE, "above"),
        PictureJob([both["right"], both["left"]], folder / "pair.png", SIZE, "above"),
        PictureJob(
            [both["right"]],
            folder / "close.png",
            SIZE,
            look_at_region(right, SKIN, "outer", patch(right).outline.shape),
        ),
    ]
    seen = []
    pictures(jobs, on_done=lambda number, path: seen.append((number, path.name)))
    assert [number for number, _ in seen] == list(range(len(jobs)))
    return {job.out.stem: job.out for job in jobs}


@pytest.mark.picture
def test_the_map_is_on_the_part(shots):
    for name in ("right", "left", "inner", "pair", "close"):
        assert Image.open(shots[name]).size == SIZE
        assert red(shots[name])[2] > 0.0005, name
    # The upper finding is not seen from below, and the camera has moved between pictures.
    assert red(shots["below"])[2] < 0.0002


@pytest.mark.picture
def test_tips_are_on_their_own_side(shots):
    columns, _, _ = red(shots["right"])
    assert np.median(columns) > 0.6 * SIZE[0]
    columns, _, _ = red(shots["left"])
    assert np.median(columns) < 0.4 * SIZE[0]
    columns, _, _ = red(shots["pair"])
    assert columns.min() < 0.4 * SIZE[0] and columns.max() > 0.6 * SIZE[0]


@pytest.mark.picture
def test_a_close_picture_is_filled_by_what_it_looks_at(shots):
    columns, rows, share = red(shots["close"])
    assert share > 5 * red(shots["right"])[2]
    assert abs(np.median(columns) - SIZE[0] / 2) < 0.1 * SIZE[0]
    assert rows.max() < 0.85 * SIZE[1]


@pytest.mark.picture
def test_white_ground_and_the_part_inside_the_picture(shots):
    pixels = np.asarray(Image.open(shots["right"]).convert("L"))
    for edge in (pixels[:4], pixels[-2:], pixels[:, :2], pixels[:, -4:]):
        assert edge.min() > 240
    assert 0.1 < (pixels < 250).mean() < 0.7


@pytest.mark.picture
def test_a_sheet_of_pictures(shots, tmp_path):
    captions = ["right", "left wing \U0001f600 $x$", "inner face"]
    three = [shots[name] for name in ("right", "left", "inner")]
    out = sheet(three, captions, tmp_path / "s.png", width=900)
    with Image.open(out) as image:
        assert image.width == 900 and image.height > 500


def test_a_sheet_needs_a_caption_each(tmp_path):
    with pytest.raises(MapperError, match="one caption each"):
        sheet([], [], tmp_path / "s.png")


@pytest.mark.parametrize("side", ["right", "left"])
def test_meshes_face_outward(side, request):
    geometry = request.getfixturevalue(side)
    skin = geometry.skins[0]
    mesh = mesh_of(geometry, skin)
    p = mesh.points[mesh.triangles]
    normals = np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0])
    outward = normal_of(skin, skin.flat[skin.triangles].mean(axis=1))
    assert (np.einsum("ij,ij->i", normals, outward) > 0).all()
    # Free edges: two ends and the trailing edge, which is closed here: its two sides count as one.
    length = np.linalg.norm(mesh.points[mesh.edges[:, 0]] - mesh.points[mesh.edges[:, 1]], axis=1)
    ends = sum(
        np.linalg.norm(
            np.diff(skin.points[skin.station == s][order(skin, s)], axis=0), axis=1
        ).sum()
        for s in (skin.station.min(), skin.station.max())
    )
    assert length.sum() == pytest.approx(ends, rel=1e-3)


PLATE = """units = "mm"
part = "plate"
shape = "plate"
form = "rectangle"
length = 400
width = 300
[measured]
how = "tape"
tolerance = 2
[[opening]]
name = "hole"
form = "round"
at = [0, 0]
diameter = 160
"""


def test_an_opening_is_no_part_of_the_mesh():
    """Closed form: a rectangle less a circle, and the edge round both."""
    plate = build(read_text(PLATE))
    mesh = mesh_of(plate, plate.skins[0])
    p = mesh.points[mesh.triangles]
    size = 0.5 * np.linalg.norm(np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]), axis=1).sum()
    assert size == pytest.approx(400 * 300 - np.pi * 80**2, rel=1e-4)
    ends = mesh.points[mesh.edges]
    long = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1).sum()
    assert long == pytest.approx(2 * (400 + 300) + np.pi * 160, rel=1e-3)


@pytest.mark.picture
def test_one_sees_through_an_opening(renderer, tmp_path):
    plate = build(read_text(PLATE))
    file = picture([dress(plate, (), numbers={}, side=900)], tmp_path / "p.png", size=SIZE)
    pixels = np.asarray(Image.open(file).convert("RGB")).astype(int)
    rows, columns = np.nonzero((np.abs(pixels - pixels[0, 0]) > 20).any(axis=2))
    # The plate's middle, above the foot of the picture; its hole is half its height.
    above = rows < 0.75 * SIZE[1]
    rows, columns = rows[above], columns[above]
    y, x = (rows.min() + rows.max()) // 2, (columns.min() + columns.max()) // 2
    assert (pixels[y - 12 : y + 12, x - 12 : x + 12] == pixels[0, 0]).all()


def order(skin, station):
    return np.argsort(skin.param[skin.station == station, 0])


def test_axes_of_a_picture(right, left):
    """From aft and above: forward is away (up), outboard to the part's own side."""
    assert sideways([right]) == ("outboard", 1.0)
    assert sideways([left]) == ("outboard", -1.0)
    assert sideways([right, left]) == ("right", 1.0)
    axes = dict(picture_axes([left], camera_for([left], "above")))
    assert axes["outboard"][0] < 0 and axes["forward"][1] > 0 and axes["up"][1] > 0
    axes = dict(picture_axes([right], camera_for([right], "below")))
    assert axes["outboard"][0] > 0 and axes["forward"][1] < 0 and axes["up"][1] > 0


def test_an_upright_part_is_seen_from_its_side(right):
    """As large as can be: the area that the outside shows to a camera is the sum of its normals'
    parts along the view, half of it over both sides."""

    def shown(geometry, camera):
        back = camera.axes()[2]
        normals = triangle_normals(geometry.skins[0]) @ geometry.placement.rotation.T
        return np.abs(normals @ back).sum() / 4

    upright = np.array([[1.0, 0, 0], [0, 0, -1.0], [0, 1.0, 0]])  # what pointed right points up
    for y, side in ((1500.0, 1), (-900.0, -1)):
        placement = replace(right.placement, rotation=upright, origin=np.array([0, y, 0]))
        fin = replace(right, placement=placement)
        camera = camera_for([fin], "auto")
        back = camera.axes()[2]
        assert back[1] * side > 0.85 and back[2] > 0
        assert shown(fin, camera) > 2 * shown(fin, camera_for([fin], "above"))
    assert camera_for([right], "auto") == camera_for([right], "above")


TUBE = """units = "mm"
part = "tube"
shape = "tube"
diameter = 400
length = 300
[measured]
how = "tape"
tolerance = 2
"""


def test_a_panel_round_a_body_is_looked_at_as_large_as_it_looks():
    """Half of a tube's skin is pi r long laid flat, and 2 r long to the eye."""
    tube = build(read_text(TUBE))
    skin = tube.skins[0]
    low, high = skin.flat.min(axis=0), skin.flat.max(axis=0)
    around = int(np.argmax(high - low))
    assert (high - low)[around] == pytest.approx(np.pi * 400, rel=1e-3)
    low[around], high[around] = low[around] + 100 * np.pi, high[around] - 100 * np.pi
    camera = look_at_region(tube, skin.name, "outer", multi(box(*low, *high)), margin=0.0)
    assert camera.across < 0.75 * 1.6 * 200 * np.pi
    inside = ((skin.flat >= low - 1) & (skin.flat <= high + 1)).all(axis=1)
    points = placed(tube, skin.points[inside]) @ np.stack(camera.axes()).T
    wide, tall, _ = np.ptp(points, axis=0)
    assert camera.across >= 0.99 * max(wide, 1.6 * tall)


def test_parallel_projection_keeps_lengths():
    right, up, back = Camera((0.3, -0.5, 0.8)).axes()
    assert np.stack([right, up, back]) @ np.stack([right, up, back]).T == pytest.approx(np.eye(3))


def test_what_is_refused(right, tmp_path):
    part = ScenePart(right, {})
    with pytest.raises(MapperError, match="Cameras are"):
        camera_for([right], "sideways")
    with pytest.raises(MapperError, match="one line"):
        Camera((0, 0, 1)).axes()
    with pytest.raises(MapperError, match="At least one part"):
        PictureJob([], tmp_path / "a.png")
    with pytest.raises(MapperError, match="can be made"):
        PictureJob([part], tmp_path / "a.png", (10, 10))
    with pytest.raises(MapperError, match="outer or inner"):
        PictureJob([part], tmp_path / "a.png", face="top")
    with pytest.raises(MapperError, match="Its faces are"):
        ScenePart(right, {(SKIN, "top"): None})
    with pytest.raises(MapperError, match="empty region"):
        look_at_region(right, SKIN, "outer", MultiPolygon())


def test_no_jobs_start_no_process(monkeypatch):
    monkeypatch.setattr(scene, "_command", None)
    assert pictures([]) == ()


def python(words):
    return lambda *_: ([sys.executable, "-c", words], None)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("import os, signal; os.kill(os.getpid(), signal.SIGSEGV)", "ended with code -11"),
        ("raise SystemExit(3)", "blank"),
        ("pass", "stopped early"),
    ],
)
def test_a_dead_renderer_is_a_clear_word(right, tmp_path, monkeypatch, words, said):
    """VTK without EGL dies by SIGSEGV, code -11 as subprocess gives it: never a traceback."""
    monkeypatch.setattr(scene, "_command", python(words))
    with pytest.raises(NoPictures, match=said) as caught:
        picture([ScenePart(right, {})], tmp_path / "a.png")
    assert "libegl1" in str(caught.value) and isinstance(caught.value, MapperError)


def test_a_hanging_renderer_is_stopped(right, tmp_path, monkeypatch):
    monkeypatch.setattr(scene, "START_LIMIT", 0.3)
    monkeypatch.setattr(scene, "PICTURE_LIMIT", 0.3)
    monkeypatch.setattr(scene, "_command", python("import time; time.sleep(60)"))
    with pytest.raises(NoPictures, match="too long"):
        picture([ScenePart(right, {})], tmp_path / "a.png")


def test_the_probe_survives_a_dead_renderer(monkeypatch):
    monkeypatch.setattr(scene, "_command", python("import os; os.abort()"))
    scene.can_render.cache_clear()
    try:
        assert scene.can_render() is False
    finally:
        scene.can_render.cache_clear()
