"""A room imports only from floors below it, and inside a room the files import only downward too."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

WORKSHOP = Path(__file__).resolve().parents[2] / "workshop"

FLOORS = {
    "handbook": 0, "common": 1, "people": 2, "materials": 2, "papers": 2, "rough": 3, "stones": 4, "gems": 5,
    "planning": 5, "commissions": 6, "sales": 7, "books": 8, "exchange": 9,
}  # fmt: skip
STREET = 10

#: Inside a room, from the ground up. A file that is not named here may be used by any file but imports none above it.
INSIDE = ["models", "papers", "actions", "forms", "filters", "access", "views", "urls"]

#: Chapters of the handbook, each importing only those before it.
CHAPTERS = [
    "errors", "tables", "units", "money", "wheels", "outlines", "solids", "optics", "light", "density", "weights",
    "recovery", "identify", "allocation", "costing", "rates", "tariffs", "estimates", "promises",
    "drawings",
]  # fmt: skip


def modules():
    for path in sorted(WORKSHOP.rglob("*.py")):
        if "__pycache__" not in path.parts:
            yield path, ".".join(("workshop", *path.relative_to(WORKSHOP).with_suffix("").parts))


def imports_of(path, name):
    """Dotted names a module imports from the workshop, relative ones made absolute."""
    package = name.rsplit(".", 1)[0] if path.name != "__init__.py" else name.removesuffix(".__init__")
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name.startswith("workshop"))
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                above = package.split(".")[: len(package.split(".")) - node.level + 1]
                base = ".".join([*above, base] if base else above)
            if base.startswith("workshop"):
                yield base
                yield from (f"{base}.{alias.name}" for alias in node.names)


def room_of(name):
    parts = name.split(".")
    return parts[1] if len(parts) > 1 else ""


def floor_of(name):
    return FLOORS.get(room_of(name), STREET)


def faults_up(name, imported):
    """Whether an import leads up, or sideways into a neighbour on the same floor."""
    if imported == "workshop" or room_of(imported) == room_of(name):
        return False
    if room_of(imported) in {"env", "logs"}:
        # The environment's helpers stand outside the house: they import nothing of it.
        return False
    return floor_of(imported) >= floor_of(name) and floor_of(name) != STREET


def test_no_import_leads_up():
    faults = [
        f"{name} imports {imported}"
        for path, name in modules()
        for imported in imports_of(path, name)
        if faults_up(name, imported)
    ]
    assert not faults, "\n".join(sorted(set(faults)))


def inside_of(name):
    parts = name.split(".")
    return parts[2].split("_")[0] if len(parts) > 2 else ""


def test_inside_a_room_imports_lead_down():
    faults = []
    for path, name in modules():
        mine = inside_of(name)
        if room_of(name) not in FLOORS or mine not in INSIDE:
            continue
        for imported in imports_of(path, name):
            theirs = inside_of(imported)
            if (
                room_of(imported) == room_of(name)
                and theirs in INSIDE
                and INSIDE.index(theirs) > INSIDE.index(mine)
            ):
                faults.append(f"{name} imports {imported}")
    assert not faults, "\n".join(sorted(set(faults)))


def test_chapters_of_the_handbook_import_only_earlier_ones():
    faults = []
    for path, name in modules():
        if room_of(name) != "handbook" or name == "workshop.handbook.__init__":
            continue
        mine = name.split(".")[2]
        for imported in imports_of(path, name):
            parts = imported.split(".")
            assert parts[1] == "handbook", f"{name} imports {imported}"
            if len(parts) > 2 and parts[2] in CHAPTERS and CHAPTERS.index(parts[2]) > CHAPTERS.index(mine):
                faults.append(f"{name} imports {imported}")
    assert not faults, "\n".join(sorted(set(faults)))


def test_every_room_has_a_floor_and_every_chapter_a_place():
    rooms = {path.name for path in WORKSHOP.iterdir() if path.is_dir() and (path / "__init__.py").exists()}
    assert rooms <= set(FLOORS)
    chapters = {
        path.stem for path in (WORKSHOP / "handbook").iterdir() if path.suffix == ".py" or path.is_dir()
    }
    assert chapters - {"__init__", "__pycache__"} <= set(CHAPTERS)


@pytest.mark.parametrize("planted", ["workshop.stones.models", "workshop.people.models", "workshop.urls"])
def test_the_guard_sees_a_fault(planted):
    assert faults_up("workshop.materials.models", planted)


def test_the_handbook_works_without_django():
    block = (
        "import importlib, pathlib, sys\n"
        "class Block:\n"
        "    def find_spec(self, name, path=None, target=None):\n"
        "        if name.split('.')[0] in ('django', 'socket_never'):\n"
        "            raise ImportError(name)\n"
        "sys.meta_path.insert(0, Block())\n"
        "import workshop.handbook\n"
        "root = pathlib.Path(workshop.handbook.__file__).parent\n"
        "for path in sorted(root.rglob('*.py')):\n"
        "    parts = path.relative_to(root).with_suffix('').parts\n"
        "    parts = parts[:-1] if parts[-1] == '__init__' else parts\n"
        "    importlib.import_module('.'.join(('workshop.handbook', *parts)))\n"
        "assert not any(name.split('.')[0] == 'django' for name in sys.modules)\n"
    )
    ran = subprocess.run(
        [sys.executable, "-c", block], cwd=WORKSHOP.parent, capture_output=True, text=True, check=False
    )
    assert ran.returncode == 0, ran.stderr
