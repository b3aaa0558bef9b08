"""The house stands as drawn: sizes, top level, and what may be named where."""

import ast
from pathlib import Path
from statistics import median

import pytest

ROOT = Path(__file__).resolve().parent.parent
CODE = sorted([*(ROOT / "monitor").rglob("*.py"), *(ROOT / "simulator").rglob("*.py")])
TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE", "pyproject.toml", ".gitignore",
    "monitor", "config", "dashboards", "tests", "simulator", ".ci",
}  # fmt: skip


def _lines(path: Path) -> int:
    return len(path.read_text(encoding="utf-8").splitlines())


def _function_lengths(path: Path) -> list[tuple[str, int]]:
    """Return each function with its lines, its docstring left out."""
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            continue
        first = node.body[0]
        doc = 0
        if isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant):
            doc = (first.end_lineno or first.lineno) - first.lineno + 1
        found.append((node.name, (node.end_lineno or node.lineno) - node.lineno + 1 - doc))
    return found


@pytest.mark.parametrize("path", CODE, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_module_or_function_outgrows_its_ceiling(path: Path) -> None:
    """A module stays under 350 lines and a function under 40, docstring not counted."""
    assert _lines(path) <= 350
    assert [item for item in _function_lengths(path) if item[1] > 40] == []


def test_the_median_module_and_function_are_small() -> None:
    """The median module is under 150 lines and the median function under 10."""
    modules = [_lines(path) for path in CODE if path.name != "__init__.py"]
    functions = [length for path in CODE for _, length in _function_lengths(path)]
    assert median(modules) < 150
    assert median(functions) < 10


def test_the_top_level_holds_only_what_is_agreed() -> None:
    """Nothing stands at the top level beside the agreed files and folders."""
    here = {
        path.name
        for path in ROOT.iterdir()
        if not path.name.startswith((".venv", ".git"))
        and not path.name.endswith(("_cache", "cache__"))
    }
    ignored = {".hypothesis", ".artefacts", "build", "dist"}
    assert here - ignored <= TOP_LEVEL
    assert TOP_LEVEL - here <= {".gitignore"}
