"""Who may import whom: lessons -> scores -> studio, never back, and pure modules stay pure."""

import ast
import os
import subprocess
import sys
from pathlib import Path

import pytest

HOME = Path(__file__).resolve().parent.parent
RANK = {"studio": 0, "scores": 1, "lessons": 2}
FILES = sorted(path for room in RANK for path in (HOME / room).rglob("*.py"))
URLS = {HOME / room / "urls.py" for room in RANK}


PURE = {
    HOME / "studio" / "money.py",
    HOME / "studio" / "ledger.py",
    HOME / "lessons" / "calendar.py",
    HOME / "lessons" / "climbing.py",
    HOME / "lessons" / "pen.py",
    HOME / "lessons" / "pictures.py",
    HOME / "lessons" / "progress.py",
    HOME / "lessons" / "recurrence.py",
    HOME / "lessons" / "reviewing.py",
    HOME / "lessons" / "rules.py",
}


def is_pure(path: Path) -> bool:
    return path in PURE or path.is_relative_to(HOME / "scores" / "music")


def imports(path: Path) -> list[tuple[str, list[str], int]]:
    """(module, names, column) of every import statement."""
    found = []
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            found += [(alias.name, [], node.col_offset) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            found.append((node.module or "", [alias.name for alias in node.names], node.col_offset))
    return found


def name_of(path: Path) -> str:
    return path.relative_to(HOME).as_posix()


@pytest.mark.parametrize("path", FILES, ids=name_of)
def test_a_room_imports_only_from_the_rooms_below_it(path: Path):
    room = path.relative_to(HOME).parts[0]
    for module, _, _ in imports(path):
        other = module.split(".")[0]
        if other in RANK and path not in URLS:
            assert RANK[other] <= RANK[room], f"{path} imports {module}"
        assert other != "tests"


@pytest.mark.parametrize("path", FILES, ids=name_of)
def test_imports_stand_at_the_top_and_take_no_private_names(path: Path):
    for module, names, column in imports(path):
        assert column == 0, f"{path}: import of {module} inside a function or block"
        if module.split(".")[0] in RANK:
            assert not [name for name in names if name.startswith("_")], f"{path}: private names of {module}"


@pytest.mark.parametrize("path", [path for path in FILES if is_pure(path)], ids=name_of)
def test_pure_modules_import_only_the_standard_library_and_each_other(path: Path):
    for module, _, _ in imports(path):
        other = HOME / f"{module.replace('.', '/')}.py"
        assert module.split(".")[0] in sys.stdlib_module_names or is_pure(other), f"{path} imports {module}"


@pytest.mark.parametrize("path", FILES, ids=name_of)
def test_only_urls_import_views_and_models_import_no_forms(path: Path):
    for module, names, _ in imports(path):
        if module.split(".")[0] not in RANK:
            continue
        if path not in URLS and "views" not in path.relative_to(HOME).parts:
            assert ".views" not in module, f"{path} imports {module}"
            assert "views" not in names, f"{path} imports {module}"
        if "models" in path.parts:
            assert ".forms" not in module
            assert "forms" not in names


def test_nothing_listens_to_signals():
    for path in FILES:
        assert "django.dispatch" not in path.read_text(), path
        assert "db.models.signals" not in path.read_text(), path


def test_the_process_that_answers_loads_no_engraver_and_no_reader_of_files():
    program = (
        "import sys; from studio.wsgi import application; from django.urls import get_resolver; "
        "get_resolver().url_patterns; print([name for name in ('verovio', 'music21') if name in sys.modules])"
    )
    environment = os.environ | {"DJANGO_SETTINGS_MODULE": "tests.settings"}
    answer = subprocess.run(
        [sys.executable, "-c", program], cwd=HOME, env=environment, capture_output=True, text=True, check=True
    )
    assert answer.stdout.strip() == "[]"
