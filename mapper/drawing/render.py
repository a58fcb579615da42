"""The process that renders: `python -m mapper.drawing.render JOBS_FOLDER`, or `--probe`.

Kept apart because VTK ends by a segmentation fault, not by an error, where it finds no EGL. It
reads what to draw from standard input, a line of JSON for each picture, with meshes and textures in
a folder; there it writes plain arrays, and says "done N" on standard output after each. Only the
parts of VTK that it needs are loaded: all of them would take longer than a picture.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
import vtkmodules.vtkRenderingOpenGL2  # noqa: F401  (the classes below are made by it)
from vtkmodules.util.numpy_support import numpy_to_vtk, numpy_to_vtkIdTypeArray, vtk_to_numpy
from vtkmodules.vtkCommonCore import vtkLogger, vtkObject, vtkPoints
from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkImageData, vtkPolyData
from vtkmodules.vtkRenderingCore import (
    vtkActor,
    vtkLight,
    vtkPolyDataMapper,
    vtkRenderer,
    vtkRenderWindow,
    vtkTexture,
    vtkWindowToImageFilter,
)

BLANK = 3
# Pictures are drawn this much larger each way and scaled down. The window's own smoothing is off:
# it would draw every point of the large picture eight times more, for what nobody sees.
OVERSAMPLE = 2
INK = "#222222"


def colour(text: str) -> tuple[float, ...]:
    """ "#rrggbb" as three shares of 1."""
    return tuple(int(text[i : i + 2], 16) / 255 for i in (1, 3, 5))


def _key(layer: dict[str, Any]) -> str:
    return json.dumps(layer, sort_keys=True)


def _texture(path: Path) -> vtkTexture:
    pixels = np.ascontiguousarray(np.load(path)[::-1])  # VTK's rows run upward
    high, wide, bands = pixels.shape
    image = vtkImageData()
    image.SetDimensions(wide, high, 1)
    image.GetPointData().SetScalars(numpy_to_vtk(pixels.reshape(-1, bands), deep=True))
    texture = vtkTexture()
    texture.SetInputData(image)
    texture.InterpolateOn()
    texture.MipmapOn()
    texture.SetMaximumAnisotropicFiltering(8)
    texture.RepeatOff()
    return texture


def _cells(corners: np.ndarray) -> vtkCellArray:
    """(M, K) indices of points as M cells."""
    cells = vtkCellArray()
    count, size = corners.shape
    offsets = np.arange(0, size * count + 1, size, dtype=np.int64)
    cells.SetData(
        numpy_to_vtkIdTypeArray(offsets, deep=True),
        numpy_to_vtkIdTypeArray(corners.astype(np.int64).ravel(), deep=True),
    )
    return cells


def _points(data: np.ndarray) -> vtkPoints:
    points = vtkPoints()
    points.SetData(numpy_to_vtk(np.ascontiguousarray(data, dtype=float), deep=True))
    return points


def _actor(data: vtkPolyData) -> vtkActor:
    mapper = vtkPolyDataMapper()
    mapper.SetInputData(data)
    mapper.ScalarVisibilityOff()
    actor = vtkActor()
    actor.SetMapper(mapper)
    return actor


class Stage:
    """One window; what the picture before showed stays for the next one, and nothing else: pictures
    of one part come one after the other, and all its textures would fill the memory."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.renderer = vtkRenderer()
        self.renderer.SetBackground(1.0, 1.0, 1.0)
        self.renderer.AutomaticLightCreationOff()
        self.window = vtkRenderWindow()
        self.window.SetMultiSamples(0)
        self.window.OffScreenRenderingOn()
        self.window.AddRenderer(self.renderer)
        self.actors: dict[str, list[vtkActor]] = {}
        self.textures: dict[str, vtkTexture] = {}
        self.light = vtkLight()
        self.light.SetLightTypeToSceneLight()
        self.renderer.AddLight(self.light)

    def actors_of(self, name: str, layer: dict[str, Any]) -> list[vtkActor]:
        """The actors of one skin's face; made on first use."""
        key = _key(layer)
        if key in self.actors:
            return self.actors[key]
        data = np.load(self.folder / f"{name}.npz")
        points = _points(data["points"])
        mesh = vtkPolyData()
        mesh.SetPoints(points)
        mesh.SetPolys(_cells(data["triangles"]))
        mesh.GetPointData().SetNormals(numpy_to_vtk(data["normals"], deep=True))
        actor = _actor(mesh)
        look = actor.GetProperty()
        if layer["culling"] == "back":
            look.BackfaceCullingOn()
        else:
            look.FrontfaceCullingOn()
        look.SetAmbient(0.5)
        look.SetDiffuse(0.55)
        look.SetSpecular(0.0)
        look.SetInterpolationToPhong()
        if layer["texture"]:
            if layer["texture"] not in self.textures:
                self.textures[layer["texture"]] = _texture(self.folder / layer["texture"])
            at = np.load(self.folder / layer["coordinates"])
            mesh.GetPointData().SetTCoords(numpy_to_vtk(at, deep=True))
            actor.SetTexture(self.textures[layer["texture"]])
        else:
            look.SetColor(*colour(layer["colour"]))
        made = [actor]
        if len(data["edges"]) and layer["edges"]:
            edges = vtkPolyData()
            edges.SetPoints(points)
            edges.SetLines(_cells(data["edges"]))
            wire = _actor(edges)
            wire.GetProperty().SetColor(*colour(INK))
            wire.GetProperty().SetLineWidth(1.5 * OVERSAMPLE)
            wire.GetProperty().LightingOff()
            made.append(wire)
        for one in made:
            self.renderer.AddActor(one)
        self.actors[key] = made
        return made

    def clear(self, layers: list[dict[str, Any]]) -> None:
        """Takes everything off that these layers do not show."""
        wanted = {_key(layer) for layer in layers}
        for key in [key for key in self.actors if key not in wanted]:
            for actor in self.actors.pop(key):
                self.renderer.RemoveActor(actor)
                actor.ReleaseGraphicsResources(self.window)
        used = {layer["texture"] for layer in layers}
        for file in [file for file in self.textures if file not in used]:
            self.textures.pop(file).ReleaseGraphicsResources(self.window)

    def pixels(self) -> np.ndarray:
        """(H, W, 3) of what was rendered last. (A screenshot would render it all once more.)"""
        grab = vtkWindowToImageFilter()
        grab.SetInput(self.window)
        grab.SetInputBufferTypeToRGB()
        grab.ReadFrontBufferOff()
        grab.ShouldRerenderOff()
        grab.Update()
        image = grab.GetOutput()
        wide, high, _ = image.GetDimensions()
        return vtk_to_numpy(image.GetPointData().GetScalars()).reshape(high, wide, 3)[::-1]

    def picture(self, job: dict[str, Any]) -> np.ndarray:
        """(H, W, 3) pixels of one job."""
        self.clear(job["layers"])
        for layer in job["layers"]:
            self.actors_of(layer["mesh"], layer)
        width, height = job["size"]
        self.window.SetSize(width * OVERSAMPLE, height * OVERSAMPLE)
        camera = self.renderer.GetActiveCamera()
        camera.ParallelProjectionOn()
        camera.SetPosition(job["position"])
        camera.SetFocalPoint(job["focus"])
        camera.SetViewUp(job["up"])
        camera.SetParallelScale(job["half_height"])
        self.renderer.ResetCameraClippingRange()
        # Set by hand: a camera light stays where the first camera was.
        self.light.SetPosition(job["light"])
        self.light.SetFocalPoint(job["focus"])
        self.window.Render()
        image = self.pixels()
        total = np.full((height, width, 3), OVERSAMPLE**2 // 2, dtype=np.uint16)
        for i in range(OVERSAMPLE):
            for j in range(OVERSAMPLE):
                total += image[i::OVERSAMPLE, j::OVERSAMPLE]
        return (total // OVERSAMPLE**2).astype(np.uint8)

    def close(self) -> None:
        """Ends the window."""
        self.window.Finalize()


def probe() -> int:
    """0 where a black triangle can be rendered, BLANK where only an empty picture comes."""
    stage = Stage(Path())
    mesh = vtkPolyData()
    mesh.SetPoints(_points(np.array([[-1.0, -1.0, 0.0], [1.0, -1.0, 0.0], [0.0, 1.0, 0.0]])))
    mesh.SetPolys(_cells(np.array([[0, 1, 2]])))
    actor = _actor(mesh)
    actor.GetProperty().SetColor(0.0, 0.0, 0.0)
    stage.renderer.AddActor(actor)
    stage.window.SetSize(64, 64)
    stage.renderer.ResetCamera()
    stage.window.Render()
    image = stage.pixels()
    stage.close()
    return 0 if image.std() > 1 else BLANK


def main(arguments: list[str]) -> int:
    vtkLogger.SetStderrVerbosity(vtkLogger.VERBOSITY_OFF)
    vtkObject.GlobalWarningDisplayOff()
    if arguments == ["--probe"]:
        return probe()
    folder = Path(arguments[0])
    stage = Stage(folder)
    try:
        for number, line in enumerate(sys.stdin):
            image = stage.picture(json.loads(line))
            if image[::4, ::4].std() < 0.5:
                return BLANK
            np.save(folder / f"picture{number}.npy", image)
            sys.stdout.write(f"done {number}\n")
            sys.stdout.flush()
    finally:
        stage.close()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
