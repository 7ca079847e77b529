"""The house stands: imports run one way, modules stay small, the door is the same, heavy things stay outside."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import sensorcal

PACKAGE = Path(sensorcal.__file__).parent
# Each room may import only from rooms to its left; physics and measure are neighbours that never meet.
ROOMS = ("ground", "physics", "measure", "bench", "calibration", "installed", "firststart", "book", "views", "cli")
MODULES = sorted(PACKAGE.rglob("*.py"))


def _room(name: str) -> str:
    parts = name.split(".")
    return parts[1] if len(parts) > 1 and parts[1] in ROOMS else "ground"


def _imports(path: Path) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            found.add(node.module)
    return {name for name in found if name.split(".")[0] == "sensorcal"}


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_imports_run_one_way(path: Path) -> None:
    """An arrow to the right would let a screen or a file leak into the mathematics."""
    if path.relative_to(PACKAGE).as_posix() in {"__init__.py", "__main__.py"}:
        return  # the door opens every room
    own = _room("sensorcal." + ".".join(path.relative_to(PACKAGE).with_suffix("").parts))
    for name in _imports(path):
        other = _room(name)
        assert ROOMS.index(other) <= ROOMS.index(own), f"{path.name} ({own}) imports {name} ({other})"
        assert {own, other} != {"physics", "measure"}, f"{path.name}: physics and measure meet"


def test_no_import_cycle() -> None:
    """A cycle would make the meaning of a module depend on who imports it first."""
    names = {"sensorcal." + ".".join(p.relative_to(PACKAGE).with_suffix("").parts): p for p in MODULES}
    graph = {name: {n for n in _top_level(path) if n in names} for name, path in names.items()}
    done: set[str] = set()

    def visit(name: str, way: tuple[str, ...]) -> None:
        assert name not in way, " -> ".join([*way, name])
        if name not in done:
            for following in graph[name]:
                visit(following, (*way, name))
            done.add(name)

    for name in graph:
        visit(name, ())


def _top_level(path: Path) -> set[str]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return {node.module for node in tree.body if isinstance(node, ast.ImportFrom) and node.module and node.level == 0}


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_modules_stay_small(path: Path) -> None:
    """Over 500 lines a module is two rooms under one name."""
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 500


def test_the_door_is_pinned() -> None:
    """A name that appears or vanishes here breaks somebody's notebook."""
    assert sensorcal.__all__ == [
        "Calibration",
        "CurvaturePrior",
        "MonitorInput",
        "SensorcalError",
        "Setup",
        "SteinhartHart",
        "boiling_point",
        "calibrate",
        "check_against_sheet",
        "claim_at",
        "expanded_c",
        "fit_thermistor",
        "make_table",
        "parse_sheet",
        "read_record",
        "read_run",
        "read_setup",
        "report_html",
        "reported_station_pressure",
        "settled_points",
        "setup_from",
        "write_record",
        "write_scenario",
        "write_setup",
        "__version__",
    ]
    for name in sensorcal.__all__:
        assert getattr(sensorcal, name) is not None


def test_help_imports_nothing_heavy() -> None:
    """`sensorcal --help` must answer at once on an old laptop."""
    code = (
        "import sys; sys.argv=['sensorcal','--help']\n"
        "from sensorcal.cli.main import main\n"
        "try: main(['--help'])\n"
        "except SystemExit: pass\n"
        "heavy = {'numpy','scipy','pandas','matplotlib','IPython','jinja2','jsonschema'} & set(sys.modules)\n"
        "assert not heavy, heavy\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_nothing_names_a_folder_outside() -> None:
    """The project must work from a fresh clone: no path of one machine, no folder beside it."""
    for path in MODULES:
        text = path.read_text(encoding="utf-8")
        assert "/work/" not in text, path
        assert "../shared" not in text, path
