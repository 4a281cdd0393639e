"""The walls of the house, each held by a tool: floors, style, types, sizes, names."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import app
import drivers
import procedures

ROOT = Path(__file__).resolve().parent.parent
PACKAGES = ("app", "procedures", "drivers")
LONGEST_FILE = 450
LONGEST_FUNCTION = 60


def _run(*command: str) -> tuple[int, str]:
    done = subprocess.run(
        [sys.executable, *command], cwd=ROOT, capture_output=True, text=True, check=False, timeout=600
    )
    return done.returncode, done.stdout + done.stderr


def _sources() -> list[Path]:
    return [path for name in (*PACKAGES, "tests") for path in sorted((ROOT / name).rglob("*.py"))]


def test_imports_keep_to_the_floors() -> None:
    """No import goes up, Qt stays in its rooms, procedures do no input or output."""
    code = "import sys; from importlinter.cli import lint_imports_command; sys.exit(lint_imports_command())"
    status, said = _run("-c", code)

    assert status == 0, said


def test_ruff_finds_nothing() -> None:
    """Style is settled by the tool."""
    status, said = _run("-m", "ruff", "check", "--no-cache", *PACKAGES, "tests")

    assert status == 0, said


def test_ruff_would_change_no_layout() -> None:
    """Layout is settled by the tool."""
    status, said = _run("-m", "ruff", "format", "--check", "--no-cache", *PACKAGES, "tests")

    assert status == 0, said


def test_types_are_strict() -> None:
    """Every package is typed to the strictest setting."""
    status, said = _run("-m", "mypy")

    assert status == 0, said


def test_procedures_work_without_qt_sockets_clock_or_sql() -> None:
    """Importing every module of `procedures` brings in nothing that does input or output of its own."""
    code = (
        "import importlib, pkgutil, sys, procedures\n"
        "for found in pkgutil.walk_packages(procedures.__path__, 'procedures.'):\n"
        "    importlib.import_module(found.name)\n"
        "print([m for m in sys.modules if m.split('.')[0] in\n"
        "       ('PySide6', 'shiboken6', 'pyqtgraph', 'sqlalchemy', 'sqlite3', 'pyvisa', 'serial')])"
    )
    status, said = _run("-c", code)

    assert (status, said.strip()) == (0, "[]")


def test_the_folders_imported_are_this_checkout() -> None:
    """Another distribution of the same name has not taken the place of ours."""
    for package in (app, procedures, drivers):
        assert package.__file__ is not None
        assert Path(package.__file__).resolve().parent.parent == ROOT


def test_top_level_names_are_the_agreed_ones() -> None:
    """Nothing new at the top level without a decision."""
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode != 0:
        pytest.skip("not a git checkout")
    agreed = {
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "pyproject.toml",
        "sample_sessions",
        "tests",
        *PACKAGES,
    }

    found = {path.split("/")[0] for path in listed.stdout.splitlines()}

    assert {name for name in found if not name.startswith(".")} <= agreed


@pytest.mark.parametrize("path", _sources(), ids=lambda path: str(path.relative_to(ROOT)))
def test_files_and_functions_stay_short(path: Path) -> None:
    """A longer file is two subjects; a longer function is two steps."""
    text = path.read_text(encoding="utf-8")

    assert text.count("\n") <= LONGEST_FILE
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            assert node.end_lineno is not None
            length = node.end_lineno - node.lineno
            assert length <= LONGEST_FUNCTION, f"line {node.lineno}: {node.name} has {length} lines"


def test_environment_needs_the_standard_library_alone() -> None:
    """The module that installs everything else cannot need anything else."""
    for name in ("environment.py", "__main__.py"):
        tree = ast.parse((ROOT / "app" / name).read_text(encoding="utf-8"))
        for node in tree.body:
            names = []
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom):
                names = [node.module or ""]
            for module in names:
                assert module.split(".")[0] in sys.stdlib_module_names or module == "app.environment"


# Qt's classes that carry words; the window's own ones of `app/windows/worded.py` take English and show the
# person's language.
WORDED = {
    "QLabel": "Label",
    "QPushButton": "Button",
    "QToolButton": "Button",
    "QAbstractButton": "DrawnButton",
    "QCheckBox": "CheckBox",
    "QRadioButton": "CheckBox",
    "QGroupBox": "Label",
    "QComboBox": "ComboBox",
    "QLineEdit": "LineEdit",
    "QFormLayout": "Form",
    "QDialog": "Dialog",
    "QMessageBox": "MessageBox",
    "QListWidget": "List",
    "QTableWidget": "Table",
    "QTableWidgetItem": "table_item",
    "QSlider": "Slider",
}
KNOWS_BOTH = ("worded.py", "theme.py", "one_key.py")


@pytest.mark.parametrize("path", sorted((ROOT / "app" / "windows").rglob("*.py")), ids=lambda path: path.name)
def test_words_reach_the_window_in_one_place(path: Path) -> None:
    """A screen that called Qt's own class would show English for ever."""
    if path.name in KNOWS_BOTH:
        return
    tree = ast.parse(path.read_text(encoding="utf-8"))
    called = {
        name
        for node in ast.walk(tree)
        for name in (
            [node.func.id]
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
            else [base.id for base in node.bases if isinstance(base, ast.Name)]
            if isinstance(node, ast.ClassDef)
            else []
        )
    }

    for name in sorted(called & set(WORDED)):
        pytest.fail(f"instead of {name} use {WORDED[name]} of app.windows.worded, which is translated")
