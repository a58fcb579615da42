"""The house is a ladder of rooms: imports run down only, rooms on one rung never meet."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]

# From the ground up; rooms named together share a rung and may not import each other.
RUNGS: tuple[tuple[str, ...], ...] = (
    ("meshes", "mapper.errors", "mapper.quantities", "mapper.late", "mapper.bounded"),
    ("mapper.units",),
    ("mapper.surface",),
    ("mapper.job",),
    ("mapper.estimate",),
    ("mapper.corrosion",),
    ("mapper.removed",),
    ("mapper.store", "mapper.drawing"),
    ("mapper.report",),
    ("mapper.viewer",),
    ("mapper.cli",),
    ("demo",),
)
RUNG_OF = {room: level for level, rooms in enumerate(RUNGS) for room in rooms}
CORE = RUNGS[:7]
OUTER_LIBRARIES = ("fastapi", "sqlalchemy", "alembic", "pyvista", "vtk", "typst", "typer", "rich")


def room_of(module: str) -> str | None:
    """The room a dotted module name lies in; None for what is not ours (or the bare package)."""
    found = [room for room in RUNG_OF if module == room or module.startswith(room + ".")]
    return max(found, key=len) if found else None


def sources() -> Iterator[tuple[str, Path]]:
    """Every module of the project as (dotted name, file)."""
    for top in ("meshes", "mapper", "demo"):
        for path in sorted((ROOT / top).rglob("*.py")):
            parts = path.relative_to(ROOT).with_suffix("").parts
            if parts[-1] == "__init__":
                parts = parts[:-1]
            yield ".".join(parts), path


def imports(tree: ast.AST, module: str, is_package: bool) -> Iterator[tuple[str, ast.AST]]:
    """Dotted names imported anywhere in a module, relative ones resolved."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield alias.name, node
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                up = module.split(".")[: len(module.split(".")) - node.level + is_package]
                base = ".".join([*up, base] if base else up)
            for alias in node.names:
                full = f"{base}.{alias.name}"
                yield (full if room_of(full) != room_of(base) else base), node


MODULES = list(sources())


@pytest.mark.parametrize(("module", "path"), MODULES, ids=[m for m, _ in MODULES])
def test_imports_run_down(module: str, path: Path) -> None:
    mine = room_of(module)
    if mine is None:  # the bare `mapper` package: it holds a version and nothing else
        assert not [
            n for n, _ in imports(ast.parse(path.read_text("utf-8")), module, True) if room_of(n)
        ]
        return
    tree = ast.parse(path.read_text("utf-8"))
    wrong = []
    for name, node in imports(tree, module, path.name == "__init__.py"):
        theirs = room_of(name)
        if theirs and theirs != mine and RUNG_OF[theirs] >= RUNG_OF[mine]:
            wrong.append(f"line {node.lineno}: {mine} imports {name}")
        top = name.split(".")[0]
        if any(mine in rung for rung in CORE) and top in OUTER_LIBRARIES:
            wrong.append(f"line {node.lineno}: the core imports {name}")
        if mine == "meshes" and top not in ("meshes", "numpy", "scipy") and top in OUTSIDE_MESHES:
            wrong.append(f"line {node.lineno}: meshes imports {name}")
    assert not wrong, "\n".join(wrong)


OUTSIDE_MESHES = ("mapper", "shapely", "pandas", "trimesh", "igl", "numba", "matplotlib", "pint")


@pytest.mark.parametrize(("module", "path"), MODULES, ids=[m for m, _ in MODULES])
def test_imports_stand_at_the_top(module: str, path: Path) -> None:
    """Only the command line imports on demand."""
    if room_of(module) == "mapper.cli":
        return
    tree = ast.parse(path.read_text("utf-8"))
    inside = [
        node.lineno
        for function in ast.walk(tree)
        if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef)
        for node in ast.walk(function)
        if isinstance(node, ast.Import | ast.ImportFrom)
    ]
    assert not inside, f"imports inside functions on lines {inside}"


def test_no_cycles_between_modules() -> None:
    names = {m for m, _ in MODULES}
    edges: dict[str, set[str]] = {}
    for module, path in MODULES:
        tree = ast.parse(path.read_text("utf-8"))
        direct: set[str] = set()
        for node in ast.walk(tree):
            if isinstance(node, ast.ImportFrom) and node.module and not node.level:
                for alias in node.names:
                    full = f"{node.module}.{alias.name}"
                    target = full if full in names else node.module
                    if target in names and target != module:
                        direct.add(target)
            elif isinstance(node, ast.Import):
                direct |= {a.name for a in node.names if a.name in names}
        if room_of(module) != "mapper.cli":  # on-demand imports there are not module cycles
            edges[module] = direct
    done: set[str] = set()

    def visit(module: str, trail: tuple[str, ...]) -> None:
        assert module not in trail, " -> ".join([*trail[trail.index(module) :], module])
        if module in done:
            return
        for target in sorted(edges.get(module, ())):
            visit(target, (*trail, module))
        done.add(module)

    for module in sorted(edges):
        visit(module, ())


def test_the_ladder_test_sees_a_wrong_import() -> None:
    tree = ast.parse("from mapper.store.shopfolder import Store\nfrom mapper import store\n")
    found = {room_of(name) for name, _ in imports(tree, "mapper.job.x", False)}
    assert "mapper.store" in found
