"""The rules of the house, read from the source itself: who may import, print and open, and how much."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections import Counter, defaultdict
from collections.abc import Iterator
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

from tests.conftest import BEGUN_FIRST
from tests.source_files import CURVES, ROOT, SOURCES, in_every, name_of, tree_of

EVERY_SOURCE = [*SOURCES, *sorted((ROOT / "tests").rglob("*.py")), *sorted((ROOT / ".ci").glob("*.py"))]
SCIENCE = [path for path in SOURCES if path.is_relative_to(CURVES / "sensitometry")]

# A floor imports only from floors to its left, and from itself.
FLOORS = ("errors", "sensitometry", "files", "app", "views", "commands", "cli", "__main__")
TOP_LEVEL = {
    ".ci",
    ".docs",
    ".gitignore",
    "DEVELOPERS.md",
    "README.md",
    "curves",
    "outputs",
    "pyproject.toml",
    "tests",
    "wedge_data",
}
HEAVY = ("numpy", "scipy", "pandas", "plotly", "tifffile", "imagecodecs", "rawpy", "tomlkit", "openpyxl")
MOST_LINES = 400
FEWEST_FILES, MOST_FILES = 3, 8


def module_of(path: Path) -> str:
    """Return the dotted name of a source file of the package."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imports(path: Path) -> Iterator[str]:
    """Yield every module that a file imports, anywhere in it; `from a import b` yields a.b where b is one."""
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{name_of(path)}:{node.lineno}: write imports in full, not relative"
            assert node.module is not None
            for alias in node.names:
                full = f"{node.module}.{alias.name}"
                yield full if full in MODULES else node.module


def floor_of(module: str) -> str | None:
    """Return the floor that a module is on; None for the package itself and for other packages."""
    parts = module.split(".")
    return parts[1] if parts[0] == "curves" and len(parts) > 1 else None


def folder_of(module: str) -> str:
    """Return the room, the folder, that a module lies in."""
    return module.rpartition(".")[0]


def calls(path: Path) -> Iterator[tuple[ast.Call, str, str | None]]:
    """Yield each call, the name called and, where it is plain, the name of what it is called on."""
    for node in ast.walk(tree_of(path)):
        if not isinstance(node, ast.Call):
            continue
        if isinstance(node.func, ast.Name):
            yield node, node.func.id, None
        elif isinstance(node.func, ast.Attribute):
            owner = node.func.value
            yield node, node.func.attr, owner.id if isinstance(owner, ast.Name) else ""


def run_python(code: str) -> str:
    """Return what a fresh interpreter prints."""
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, encoding="utf-8", check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


MODULES = {module_of(path): path for path in SOURCES}
PLACED = [path for path in SOURCES if floor_of(module_of(path))]  # all but the package's face, which names any floor
SILENT = [path for path in SOURCES if floor_of(module_of(path)) not in ("commands", "cli")]


@in_every(PLACED)
def test_a_floor_imports_only_from_floors_to_its_left(path: Path) -> None:
    floor = floor_of(module_of(path))
    assert floor in FLOORS, f"{name_of(path)} is on no known floor"
    for module in imports(path):
        other = floor_of(module)
        if other is not None:
            assert FLOORS.index(other) <= FLOORS.index(floor), f"{name_of(path)} imports {module}"
    if floor == "errors":
        assert all(floor_of(module) is None for module in imports(path))


def refuse_circles(graph: dict[str, set[str]]) -> None:
    """Fail, naming the circle, if things depend on each other in a circle."""
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        pytest.fail(" -> ".join(error.args[1]))


def test_modules_import_each_other_without_circles() -> None:
    refuse_circles({module_of(path): {m for m in imports(path) if floor_of(m)} for path in PLACED})


def test_rooms_import_each_other_without_circles() -> None:
    graph: dict[str, set[str]] = defaultdict(set)
    for path in PLACED:
        graph[folder_of(module_of(path))] |= {folder_of(m) for m in imports(path) if m in MODULES}
    refuse_circles({room: others - {room, "curves"} for room, others in graph.items() if room != "curves"})


def test_a_room_holds_as_many_files_as_one_takes_in_at_a_look() -> None:
    held = Counter(folder_of(module_of(path)) for path in PLACED if path.name != "__init__.py")
    crowded = {room: files for room, files in held.items() if not FEWEST_FILES <= files <= MOST_FILES}
    assert set(crowded) <= {"curves", "curves.commands"}, crowded


def texts_of(path: Path) -> list[str]:
    """Return every text that a file holds, docstrings included."""
    nodes = (node for node in ast.walk(tree_of(path)) if isinstance(node, ast.Constant))
    return [node.value for node in nodes if isinstance(node.value, str)]


@in_every(SILENT)
def test_no_floor_below_the_commands_names_an_option(path: Path) -> None:
    named = [text for text in texts_of(path) if re.search(r"(^|[^\w;\"-])--[a-z]", text)]
    assert not named, f"{name_of(path)} speaks of options; errors carry settings: {named}"


@in_every(SCIENCE)
def test_the_science_names_no_command(path: Path) -> None:
    named = [text for text in texts_of(path) if re.search(r"\bcurves [a-z]+'", text)]
    assert not named, f"{name_of(path)} speaks of the command line: {named}"


@in_every(SCIENCE)
def test_the_science_uses_numpy_scipy_and_the_standard_library_only(path: Path) -> None:
    allowed = (sys.stdlib_module_names | {"numpy", "scipy", "curves"}) - {
        "pathlib",
        "os",
        "io",
        "shutil",
        "tempfile",
    }
    assert {module.split(".")[0] for module in imports(path)} <= allowed


@in_every(SCIENCE)
def test_the_science_opens_no_file(path: Path) -> None:
    reading = {"open", "fromfile", "tofile", "loadtxt", "genfromtxt", "savetxt", "savez", "memmap"}
    assert not {called for _, called, _ in calls(path)} & reading


@in_every(SILENT)
def test_only_commands_speak(path: Path) -> None:
    spoken = [node.lineno for node, called, _ in calls(path) if called in ("print", "echo", "secho", "input")]
    streams = [
        node.lineno
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.Attribute) and node.attr in ("stdout", "stderr")
    ]
    assert not spoken + streams, f"{name_of(path)} prints in lines {spoken + streams}"


@in_every(EVERY_SOURCE)
def test_every_text_file_is_opened_with_a_named_encoding(path: Path) -> None:
    for node, called, owner in calls(path):
        opens = called in ("open", "fdopen", "TextIOWrapper", "NamedTemporaryFile") and owner not in (
            "webbrowser",
            "os",
        )
        if not opens and (called not in ("read_text", "write_text") or owner is None):
            continue
        given = [*node.args, *(keyword.value for keyword in node.keywords if keyword.arg == "mode")]
        texts = [v.value for v in given if isinstance(v, ast.Constant) and isinstance(v.value, str)]
        binary = opens and any(set(text) <= set("rwxab+") and "b" in text for text in texts)
        named = any(keyword.arg == "encoding" for keyword in node.keywords)
        assert binary or named, f"{name_of(path)}:{node.lineno}: {called} without encoding"


@in_every(SOURCES)
def test_everything_public_has_a_docstring(path: Path) -> None:
    module = tree_of(path)
    if path.name != "__init__.py":
        assert ast.get_docstring(module), f"{name_of(path)} does not say what it is"
    scopes: list[ast.Module | ast.ClassDef] = [module]
    while scopes:
        for node in scopes.pop().body:
            if not isinstance(node, ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
                continue
            if node.name.startswith("_"):
                continue
            assert ast.get_docstring(node), f"{name_of(path)}:{node.lineno}: {node.name} has no docstring"
            if isinstance(node, ast.ClassDef):
                scopes.append(node)


def test_no_room_is_longer_than_one_can_read() -> None:
    long = {}
    for path in CURVES.rglob("*"):
        if path.suffix in (".py", ".html", ".css", ".js"):
            lines = len(path.read_text(encoding="utf-8").splitlines())
            if lines > MOST_LINES:
                long[name_of(path)] = lines
    assert not long, f"more than {MOST_LINES} lines: make two rooms"


def test_the_top_level_holds_only_what_belongs_there() -> None:
    if not (ROOT / ".git").exists():
        pytest.skip("not a git checkout")
    command = ["git", "ls-files", "--cached", "--others", "--exclude-standard"]
    listed = subprocess.run(command, cwd=ROOT, capture_output=True, encoding="utf-8", check=True).stdout.splitlines()
    found = {line.split("/")[0] for line in listed}
    assert {"README.md", "curves", "tests"} <= found <= TOP_LEVEL
    assert [line for line in listed if line.startswith("outputs/")] == ["outputs/README.md"]


def test_importing_the_package_loads_nothing_from_elsewhere() -> None:
    loaded = run_python(
        "import sys; before = set(sys.modules); import curves;"
        "print(*sorted({name.split('.')[0] for name in set(sys.modules) - before} - sys.stdlib_module_names))"
    )
    assert loaded.split() == ["curves"]


def test_results_of_strips_load_neither_statistics_nor_what_reads_grain() -> None:
    loaded = run_python(
        "import sys, curves.files.results.content, curves.sensitometry.analysis.analyse; print(*sys.modules)"
    )
    assert "curves.sensitometry.curve.fit" in loaded.split()
    # Each would take as long again as all the rest of `curves measure` does to start; what optimises, half as long,
    # which is spent when a curve is fitted.
    heavy = {"scipy.stats", "scipy.signal", "scipy.optimize", "curves.sensitometry.grain.comparison"}
    assert not heavy & set(loaded.split())


def test_importing_the_command_line_loads_nothing_heavy() -> None:
    loaded = run_python("import sys, curves.cli; print(*sys.modules)").split()
    assert "curves.cli" in loaded
    assert not set(HEAVY) & set(loaded)


def test_the_files_of_tests_that_are_begun_first_are_there() -> None:
    assert [name for name in BEGUN_FIRST if not (ROOT / name).is_file()] == []
