"""Smoothing on the sheet, judged from outside and by the rate at which the error falls.

Closed forms: the heat kernel of the plane, exp(-r2 / 2 s2) / (2 pi s2); the same mirrored in a
closed edge (method of images); the kernel of the sphere, a Legendre series (identities, from
memory). Programs: scikit-fem assembles the same sheet by quadratic elements and is stepped by
Crank and Nicolson; robust-laplacian makes the same triangles Delaunay its own way.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
import robust_laplacian
import shapely
import skfem
from numpy.polynomial import legendre
from scipy.sparse.linalg import splu
from shapely import MultiPolygon, Point, Polygon, box
from skfem.models.poisson import laplace, mass

from mapper.errors import MapperError
from mapper.surface import finer, smooth
from mapper.surface.build import make_skin
from mapper.surface.finer import fine_of, halved, sides_of, turned
from mapper.surface.smooth import smoother_of, smoother_on, stiffness
from meshes.plate import plate
from tests.surface.examples import pipe, tapered, twisted, two_charts
from tests.surface.round_skins import at_place, solid, sphere

GOAL = 0.02  # of the peak, at 0, 1 and 2 widths from a source


@cache
def flat_sheet(triangles, long=1000.0, wide=800.0):
    ring = np.array([[0.0, 0.0], [long, 0.0], [long, wide], [0.0, wide]])
    return make_skin(plate(ring)[0], triangles=triangles)


def about(centre, width, rng, count=24):
    """Points at 0, 1 and 2 widths from a place: (3, count, 2)."""
    turn = rng.uniform(0.0, 2 * np.pi, count)
    ring = np.stack([np.cos(turn), np.sin(turn)], -1)
    return np.stack([centre + k * width * ring for k in range(3)])


def bell(points, centre, width):
    return np.exp(-np.sum((points - centre) ** 2, axis=-1) / (2 * width**2)) / (
        2 * np.pi * width**2
    )


def errors_on_plane(smoother, centres, width, rng):
    """Errors over the peak at 0, 1 and 2 widths from sources at some places: (3, K)."""
    errors = []
    for centre in centres:
        values = smoother.spread(smoother.at_points([centre]))
        points = about(centre, width, rng)
        found = smoother.at(values, points.reshape(-1, 2)).reshape(points.shape[:2])
        errors.append(found - bell(points, centre, width))
    return np.concatenate(errors, axis=1) * 2 * np.pi * width**2


@pytest.mark.parametrize("skin", ["flat", "wing"])
def test_plane_kernel_within_the_goal_and_of_second_order(skin):
    """On 20,000 triangles and on the same cut in four each: 80,000; the order from 5,000 to those.
    A wing without twist lies flat without stretch, so the plane's kernel holds on it away from its
    edges."""
    rng = np.random.default_rng(1)
    # The flat sheet's maker takes a quarter of what it is allowed.
    make = (lambda n: flat_sheet(4 * n)) if skin == "flat" else tapered
    middle, width = ((500.0, 400.0), 60.0) if skin == "flat" else ((2500.0, 420.0), 180.0)
    centres = middle + rng.uniform(-50, 50, (12, 2))
    coarse, fine = (fine_of(make(n)) for n in (5_000, 20_000))
    mean = []
    for cut, count in ((coarse, 5_000), (fine, 20_000), (halved(fine, 0.0), 80_000)):
        assert 0.9 * count < len(cut.vertex) < 1.1 * count
        errors = errors_on_plane(smoother_on("sheet", cut, width), centres, width, rng)
        assert count == 5_000 or np.abs(errors).max() < GOAL
        mean.append(np.sqrt(np.mean(errors**2, axis=1)))
    order = np.log2(mean[0] / mean[2]) / 2
    assert np.all(order > 1.8), (mean, order)


def sphere_kernel(angle, width, radius):
    """The sphere's heat kernel at the time s2 / 2, per area; angle in rad."""
    n = np.arange(120)
    share = (2 * n + 1) / (4 * np.pi * radius**2)
    return legendre.legval(np.cos(angle), share * np.exp(-n * (n + 1) * (width / radius) ** 2 / 2))


def test_sphere_kernel_and_its_rate():
    # The edges in 69 degrees north and south are five widths away.
    radius, width, rng = 1000.0, 220.0, np.random.default_rng(2)
    mean = []
    for around, along in ((100, 50), (200, 100)):
        skin = sphere(radius, around=around, along=along)
        smoother = smoother_on("ball", fine_of(skin), width)
        found = [[], [], []]
        for a, b in rng.uniform(-0.05, 0.05, (10, 2)):
            values = smoother.spread(smoother.at_points([at_place(skin, a, b)]))
            for k in range(3):
                turn = rng.uniform(0, 2 * np.pi, 24)
                away = k * width / radius
                t = np.arcsin(np.sin(b) * np.cos(away) + np.cos(b) * np.sin(away) * np.cos(turn))
                east = np.sin(turn) * np.sin(away) * np.cos(b)
                s = a + np.arctan2(east, np.cos(away) - np.sin(b) * np.sin(t))
                at = skin.charts[0].flat_map.to_flat(np.stack([s, t], axis=-1))
                error = smoother.at(values, at) - sphere_kernel(away, width, radius)
                found[k] += list(error / sphere_kernel(0.0, width, radius))
        assert np.abs(found).max() < GOAL
        mean.append(np.sqrt(np.mean(np.square(found), axis=1)))
    order = np.log2(mean[0] / mean[1])
    assert np.all(order > 1.8), (mean, order)


def test_closed_edges_mirror_the_kernel():
    """A corner of the sheet: four images. A source on the edge itself is twice as high there."""
    width, rng = 60.0, np.random.default_rng(3)
    smoother = smoother_on("sheet", fine_of(flat_sheet(80_000)), width)
    for centre in np.array([[30.0, 400.0], [0.0, 400.0], [25.0, 40.0]]):
        x, y = centre
        images = np.array([[x, y], [-x, y], [x, -y], [-x, -y]])
        points = about(centre, width, rng, 80).reshape(-1, 2)
        points = points[np.all(points > 0, axis=1)]
        exact = sum(bell(points, image, width) for image in images)
        peak = sum(bell(centre[None], image, width) for image in images)[0]
        values = smoother.spread(smoother.at_points([centre]))
        assert np.abs(smoother.at(values, points) - exact).max() < GOAL * peak


def oblique_hole(middle, turn):
    """An opening on one side of a line across the mesh, and the line's direction and its normal."""
    along = np.array([np.cos(turn), np.sin(turn)])
    across = np.array([-along[1], along[0]])
    ends = middle - 280 * along, middle + 280 * along
    return Polygon([*ends, ends[1] + 130 * across, ends[0] + 130 * across]), along, across


def test_an_opening_is_a_closed_edge_of_second_order():
    """Method of images at an opening whose edge runs across the triangles at any angle."""
    width, rng = 60.0, np.random.default_rng(4)
    errors = []
    for triangles in (30_000, 120_000):
        worst = 0.0
        for turn in (0.3, 1.1, 2.5):
            middle = np.array([500.0, 400.0]) + rng.uniform(-20, 20, 2)
            hole, _, across = oblique_hole(middle, turn)
            fine = fine_of(flat_sheet(triangles), MultiPolygon([hole]))
            assert fine.area.sum() == pytest.approx(800_000 - hole.area, abs=0.05 * hole.length)
            smoother = smoother_on("sheet", fine, width)
            for away in (0.5, 10.0, 40.0, 90.0):
                centre = middle - away * across
                points = about(centre, width, rng, 60).reshape(-1, 2)
                points = points[(points - middle) @ across < 0]
                exact = bell(points, centre, width) + bell(points, middle + away * across, width)
                peak = (1 + np.exp(-2 * (away / width) ** 2)) / (2 * np.pi * width**2)
                values = smoother.spread(smoother.at_points([centre]))
                worst = max(worst, np.abs(smoother.at(values, points) - exact).max() / peak)
                # Across the opening, nothing.
                beyond = smoother.at(values, [middle + 140 * across])[0]
                assert abs(beyond) < 1e-9 * peak
                assert smoother.amount(values) == pytest.approx(1.0, abs=1e-12)
        errors.append(worst)
    assert errors[1] < errors[0] < GOAL, errors
    assert np.log2(errors[0] / errors[1]) > 1.8, errors


def test_round_opening_against_scikit_fem():
    """Near a round opening there is no closed form: scikit-fem's quadratic elements on triangles of
    its own making of the same sheet, stepped 400 times by Crank and Nicolson."""
    hole = Point(500.0, 400.0).buffer(100.0, quad_segs=64)
    opening, width = MultiPolygon([hole]), 60.0
    smoother = smoother_on("sheet", fine_of(flat_sheet(80_000), opening), width)
    # A smooth start, so that the stepping is as good as exact: a bell of 40 mm beside the edge.
    start = np.array([640.0, 420.0])
    fine, lay = smoother.fine, smoother.fine.flat
    corner = np.zeros((fine.count, 2))
    corner[fine.vertex.ravel()] = lay.reshape(-1, 2)
    values = smoother.spread(smoother.mass * bell(corner, start, 40.0))

    turn = np.linspace(0, 2 * np.pi, 181)[:-1]
    rings = np.concatenate(
        [
            np.array([500.0, 400.0]) + r * np.stack([np.cos(turn), np.sin(turn)], -1)
            for r in np.linspace(100.0, 380.0, 57)
        ]
    )
    cells = [
        (p * 180 + q, p * 180 + (q + 1) % 180, (p + 1) * 180 + q, (p + 1) * 180 + (q + 1) % 180)
        for p in range(56)
        for q in range(180)
    ]
    faces = np.array([t for a, b, c, d in cells for t in ((a, b, c), (b, d, c))])
    mesh = skfem.MeshTri(rings.T.copy(), faces.T.copy())
    basis = skfem.Basis(mesh, skfem.ElementTriP2())
    stiff, weight = laplace.assemble(basis), mass.assemble(basis)
    step = width**2 / 2 / 400
    u = bell(basis.doflocs.T, start, 40.0)
    solve = splu((weight + step / 2 * stiff).tocsc()).solve
    for _ in range(400):
        u = solve(weight @ u - step / 2 * (stiff @ u))
    ask = start + np.array([[0, 0], [-60, 60], [-60, -90], [20, 70], [-100, 110], [60, 0]])
    ask = ask[[not hole.buffer(2).contains(Point(p)) for p in ask]]
    assert len(ask) >= 5
    judge = basis.probes(ask.T) @ u
    assert np.abs(smoother.at(values, ask) - judge).max() < 0.005 * u.max()


def test_poor_triangles_against_robust_laplacian():
    """Both make a closed polyhedron of long thin triangles Delaunay by its lengths: one matrix."""
    rng = np.random.default_rng(5)
    n, m = 24, 14
    ring = np.linspace(0, 2 * np.pi, n + 1)[:-1]
    points = [[0.0, 0.0, 0.0]]
    for j in range(1, m):
        x = 60.0 * j / m
        r = np.sin(np.pi * j / m)
        jitter = rng.uniform(-0.12, 0.12, n)
        points += [[x, r * np.cos(a), r * np.sin(a)] for a in ring + jitter]
    points.append([60.0, 0.0, 0.0])
    last = len(points) - 1

    def at(j, k):
        return 1 + (j - 1) * n + k % n

    faces = [(0, at(1, k), at(1, k + 1)) for k in range(n)]
    faces += [(last, at(m - 1, k + 1), at(m - 1, k)) for k in range(n)]
    for j in range(1, m - 1):
        for k in range(n):
            faces += [(at(j, k), at(j + 1, k), at(j, k + 1))]
            faces += [(at(j + 1, k), at(j + 1, k + 1), at(j, k + 1))]
    skin = solid(points, faces)
    lay = fine_of(skin)
    # As a polyhedron, straight through.
    p = skin.points[skin.triangles]
    side = np.stack(
        [np.linalg.norm(p[:, b] - p[:, a], axis=1) for a, b in ((1, 2), (2, 0), (0, 1))], 1
    )
    fine = finer.Fine(skin.triangles, finer_lay(side), lay.flat)
    vertex, long = turned(fine)
    ours = stiffness(vertex, long, fine.count).toarray()
    theirs, _ = robust_laplacian.mesh_laplacian(skin.points, skin.triangles, mollify_factor=0.0)
    before = stiffness(fine.vertex, side, fine.count).toarray()
    assert np.abs(before - theirs.toarray()).max() > 0.1, "the triangles were not poor"
    assert ours == pytest.approx(theirs.toarray(), abs=1e-8)
    off = ours - np.diag(np.diag(ours))
    assert off.max() < 1e-9, "a Delaunay net has no weight below nothing"


def finer_lay(side):
    """Corners of triangles with given sides, by the law of cosines."""
    a, b, c = side.T
    x = (b * b + c * c - a * a) / (2 * c)
    lay = np.zeros((len(side), 3, 2))
    lay[:, 1, 0], lay[:, 2, 0], lay[:, 2, 1] = c, x, np.sqrt(b * b - x * x)
    return lay


@pytest.mark.parametrize("make", [tapered, twisted, two_charts, pipe])
def test_mass_is_kept_and_nothing_is_below_nothing(make):
    skin = make()
    rng = np.random.default_rng(6)
    smoother = smoother_of(skin, 150.0)
    rows = rng.integers(0, len(skin.triangles), 40)
    load = smoother.at_points(skin.flat[skin.triangles[rows]].mean(axis=1), rng.uniform(0.1, 9, 40))
    values = smoother.spread(np.stack([load, smoother.everywhere()], axis=1))
    kept = smoother.amount(values)
    assert kept[0] == pytest.approx(load.sum(), rel=1e-12)
    assert kept[1] == pytest.approx(smoother.mass.sum(), rel=1e-12)
    assert values[:, 1] == pytest.approx(1.0, abs=1e-10)
    assert values[:, 0].min() > -1e-3 * values[:, 0].max()
    assert sides_of(smoother.fine.lay).max() <= smooth.FINENESS * 150.0


def test_round_the_nose_but_not_through_nor_over_the_trailing_edge():
    """Wing of NACA 0012, 2 m to 1 m: a source 30 mm under the leading edge is as high over it as on
    the flat sheet; one 30 mm before the upper trailing edge leaves the lower side empty, though the
    lower side is 5 mm away through the sheet."""
    skin, width = tapered(), 120.0
    smoother = smoother_of(skin, width)
    peak = 1 / (2 * np.pi * width**2)
    nose = skin.charts[0].flat_map.to_flat(np.array([[0.0, 0.5]]))[0]
    under, over = nose - np.array([0.0, 30.0]), nose + np.array([0.0, 60.0])
    values = smoother.spread(smoother.at_points([under]))
    assert smoother.at(values, [over])[0] == pytest.approx(
        bell(over, under, width), abs=GOAL * peak
    )
    to_flat = skin.charts[0].flat_map.to_flat
    upper, lower = to_flat(np.array([[0.99, 0.5]]))[0], to_flat(np.array([[-0.99, 0.5]]))[0]
    values = smoother.spread(smoother.at_points([upper]))
    assert smoother.at(values, [upper])[0] > 1.8 * peak
    assert abs(smoother.at(values, [lower])[0]) < 1e-9 * peak


def test_over_a_glued_chart_edge_as_if_it_were_not_there():
    """A source 20 mm inboard of the joint of two charts: the same beyond it as on one chart."""
    skin, width = two_charts(), 100.0
    smoother = smoother_of(skin, width)
    inner, outer = skin.charts[0].flat_map, skin.charts[1].flat_map
    joint = inner.to_flat(np.array([[0.6, 1.0]]))[0]
    source = joint - np.array([20.0, 0.0])
    values = smoother.spread(smoother.at_points([source]))
    other = outer.to_flat(np.array([[0.6, 0.0], [0.6, 0.02], [0.6, 0.05]]))
    space = skin.charts[1].patch.at(np.full(3, 0.6), np.array([0.0, 0.02, 0.05]))
    start = skin.charts[0].patch.at(np.array([0.6]), np.array([1.0 - 20.0 / 3000.0]))[0]
    away = np.linalg.norm(space - start, axis=1)
    exact = np.exp(-(away**2) / (2 * width**2)) / (2 * np.pi * width**2)
    assert smoother.at(values, other) == pytest.approx(exact, abs=GOAL * exact.max())


def test_a_tube_meets_itself_from_behind():
    """Pipe of 40 mm: round it the kernel is a wrapped bell (images a circumference apart)."""
    skin, width = pipe(), 60.0
    smoother = smoother_of(skin, width)
    around = 40.0 * np.pi
    source = skin.charts[0].flat_map.to_flat(np.array([[0.5, 0.5]]))[0]
    values = smoother.spread(smoother.at_points([source]))
    wraps = np.arange(-8, 9) * around
    along = np.array([0.0, 60.0, 120.0])
    exact = [sum(bell(np.array([d, w]), np.zeros(2), width) for w in wraps) for d in along]
    found = smoother.at(values, source + np.stack([along, 0 * along], -1))
    assert found == pytest.approx(np.array(exact), abs=GOAL * exact[0])


def test_areas_as_sources():
    """A region's load is its true area; a disc of one per mm2 smoothed at its middle is
    1 - exp(-r2 / 2 s2) (identity); a half plane is one half on its edge."""
    skin, width = flat_sheet(80_000), 60.0
    smoother = smoother_of(skin, width)
    disc = Point(480.0, 390.0).buffer(90.0, quad_segs=200)
    load = smoother.over_area(disc)
    assert load.sum() == pytest.approx(disc.area, rel=1e-9)
    values = smoother.spread(load)
    assert smoother.at(values, [[480.0, 390.0]])[0] == pytest.approx(
        1 - np.exp(-(90.0**2) / (2 * width**2)), abs=0.01
    )
    half = smoother.spread(smoother.over_area(MultiPolygon([box(-1, -1, 503.0, 801)])))
    assert smoother.at(half, [[503.0, 400.0]])[0] == pytest.approx(0.5, abs=0.01)
    assert smoother.over_area(MultiPolygon()).sum() == 0.0
    assert smoother.over_area(MultiPolygon([box(-50, -50, -20, -20)])).sum() == 0.0


def test_finer_triangles_are_the_same_sheet():
    """Cutting sides in the middle keeps the area and every length across; wide cells stay wide."""
    skin = tapered()
    coarse, fine = fine_of(skin), fine_of(skin, longest=40.0)
    assert fine.area.sum() == pytest.approx(coarse.area.sum(), rel=1e-12)
    assert np.all(fine.area > 0)
    assert sides_of(fine.lay).max() <= 40.0
    # Euler's number of a disc: no corner was made twice.
    ends = np.sort(fine.vertex[:, [[1, 2], [2, 0], [0, 1]]].reshape(-1, 2), axis=1)
    edges = len(np.unique(ends, axis=0))
    assert fine.count - edges + len(fine.vertex) == 1


def test_factors_are_kept_per_width():
    skin = tapered()
    first = smoother_of(skin, 150.0)
    assert smoother_of(skin, 150.0) is first
    for width in (200.0, 250.0, 300.0):
        smoother_of(skin, width)
    assert smoother_of(skin, 150.0) is not first


def test_mistakes_are_told():
    skin = flat_sheet(20_000)
    with pytest.raises(MapperError, match="above 0"):
        smoother_of(skin, 0.0)
    with pytest.raises(MapperError, match="above 0"):
        smoother_of(skin, float("nan"))
    with pytest.raises(MapperError, match="larger width"):
        smoother_of(skin, 0.5)
    with pytest.raises(MapperError, match="left beside its openings"):
        smoother_of(skin, 80.0, MultiPolygon([box(-10, -10, 2000, 2000)]))
    smoother = smoother_of(skin, 80.0, MultiPolygon([box(400, 300, 600, 500)]))
    with pytest.raises(MapperError, match="no sheet"):
        smoother.at_points([[500.0, 400.0]])
    with pytest.raises(MapperError, match="no number"):
        smoother.at_points([[np.nan, 400.0]])
    with pytest.raises(MapperError, match="finite numbers"):
        smoother.spread(np.zeros(3))
    assert smoother.at_points(np.zeros((0, 2))).sum() == 0.0
    assert not shapely.is_empty(smoother._outlines).any()
