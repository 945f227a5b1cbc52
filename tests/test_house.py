"""How the house is laid out: rooms, imports that go one way, and a folder named signal that shadows nothing."""

import ast
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
ROOT_ENTRIES = {
    "pyproject.toml",
    "README.md",
    "DEVELOPERS.md",
    "viewer",
    "signal",
    "storage",
    "tests",
    "sample_captures",
}
LEFT_BY_BUILDING = re.compile(r"\..*|build|dist|.*\.egg-info|__pycache__")

# Which rooms and packages a room may import, beside the standard library.
MAY_IMPORT = {
    "signal": {"loomlight.signal", "numpy", "scipy"},
    "storage": {"loomlight.storage", "loomlight.signal", "numpy", "h5py"},
    "viewer": {
        "loomlight.viewer",
        "loomlight.signal",
        "loomlight.storage",
        "loomlight.sample_captures",
        "PySide6",
        "shiboken6",
        "numpy",
    },
    "sample_captures": {"loomlight.sample_captures", "loomlight.signal", "loomlight.storage", "numpy"},
}
# What is loaded late, by an import inside the function that needs it: a start does not wait for it.
LATE = {
    "signal": ("scipy", "loomlight.signal.kinds."),
    "storage": ("scipy", "loomlight.storage."),
    "viewer": ("scipy", "loomlight.", "PySide6"),
    "sample_captures": ("scipy",),
}
QUESTIONS = ("sys.platform", "TYPE_CHECKING")
MODULES = sorted(path for room in MAY_IMPORT for path in (ROOT / room).rglob("*.py"))


def _imported(node: ast.AST) -> list[str]:
    if isinstance(node, ast.Import):
        return [alias.name for alias in node.names]
    if isinstance(node, ast.ImportFrom):
        assert node.level == 0, f"line {node.lineno}: imports are written from loomlight on"
        return [node.module or ""]
    return []


def _owner(module: str) -> str:
    """``loomlight.room`` for our own, else the top name."""
    parts = module.split(".")
    return ".".join(parts[:2]) if parts[0] == "loomlight" else parts[0]


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_imports_go_one_way(path: Path) -> None:
    room = path.relative_to(ROOT).parts[0]
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        for module in _imported(node):
            owner = _owner(module)
            if owner.split(".")[0] in sys.stdlib_module_names and not owner.startswith("loomlight"):
                continue
            assert owner in MAY_IMPORT[room], f"{path.name} line {node.lineno}: {room} may not import {module}"


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_imports_stand_at_the_top_but_for_what_is_loaded_late(path: Path) -> None:
    room = path.relative_to(ROOT).parts[0]
    tree = ast.parse(path.read_text(encoding="utf-8"))
    # What only one system has, and what only annotations name, stands at the top as well, under its question.
    asked = [node for node in tree.body if isinstance(node, ast.If) and ast.unparse(node.test).startswith(QUESTIONS)]
    at_top = {id(node) for node in (*tree.body, *(one for node in asked for one in (*node.body, *node.orelse)))}
    for node in ast.walk(tree):
        for module in _imported(node):
            if id(node) in at_top:
                assert _owner(module) != "scipy", f"line {node.lineno}: {module} is imported where it is used"
            else:
                assert module.startswith(LATE[room]), f"line {node.lineno}: {module} belongs at the top"


def test_the_root_shows_what_it_should() -> None:
    shown = {path.name for path in ROOT.iterdir() if not LEFT_BY_BUILDING.fullmatch(path.name)}
    assert shown == ROOT_ENTRIES


def test_signal_and_tests_have_no_init_file() -> None:
    assert not (ROOT / "signal" / "__init__.py").exists()
    assert not list((ROOT / "tests").rglob("__init__.py"))


def test_every_package_is_listed_and_typed() -> None:
    listed = set(tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["setuptools"]["packages"])
    found = {"loomlight." + ".".join(path.parent.relative_to(ROOT).parts) for path in MODULES}
    assert listed == found
    assert all((ROOT / room / "py.typed").exists() for room in MAY_IMPORT)


@pytest.mark.parametrize("arguments", [["-c", "import signal; signal.SIGINT"], ["-m", "pip", "--version"]])
def test_python_run_from_the_root_keeps_its_own_signal_module(arguments: list[str]) -> None:
    done = subprocess.run([sys.executable, *arguments], cwd=ROOT, capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr


def _public_definitions(body: list[ast.stmt]) -> list[ast.FunctionDef | ast.ClassDef]:
    """Public functions and classes, and the public methods of those classes; nested functions are nobody's business."""
    found: list[ast.FunctionDef | ast.ClassDef] = []
    for node in body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            found.append(node)
            if isinstance(node, ast.ClassDef):
                found += _public_definitions(node.body)
    return found


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_public_names_in_signal_and_storage_have_docstrings(path: Path) -> None:
    if path.relative_to(ROOT).parts[0] in ("signal", "storage"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        assert ast.get_docstring(tree)
        bare = [node.name for node in _public_definitions(tree.body) if ast.get_docstring(node) is None]
        assert bare == []
