"""The bootstrap in manage.py, on Pythons that lack everything or are too old."""

import ast
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

MANAGE = Path("manage.py").resolve()
BARE_PYTHON = [sys.executable, "-S"]  # -S: without any installed package
NOTHING_ANSWERS = {
    "PIP_INDEX_URL": "http://127.0.0.1:9/simple",
    "PIP_CONFIG_FILE": os.devnull,
    "PIP_DISABLE_PIP_VERSION_CHECK": "1",
}


@pytest.fixture
def fresh_clone(tmp_path: Path) -> Path:
    """A folder with what the bootstrap needs, no .venv, and a network on which no package index answers."""
    for name in ("manage.py", "pyproject.toml"):
        shutil.copy(MANAGE.with_name(name), tmp_path)
    return tmp_path


def run(folder: Path, *python: str) -> subprocess.CompletedProcess[str]:
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("PIP_", "DJANGO_"))}
    command = [*python, str(folder / "manage.py"), "up"]
    return subprocess.run(command, env={**kept, **NOTHING_ANSWERS}, capture_output=True, text=True)


def half_made_venv(folder: Path) -> Path:
    """What is left of a .venv when power fails while pip works."""
    python = folder / ".venv" / "bin" / "python"
    python.parent.mkdir(parents=True)
    python.symlink_to(sys.executable)
    (folder / ".venv" / "unfinished").touch()
    (folder / ".venv" / "left over").touch()
    return folder / ".venv"


def test_without_network_one_sentence_says_so_and_nothing_half_made_is_left(fresh_clone: Path) -> None:
    venv = half_made_venv(fresh_clone)
    done = run(fresh_clone, *BARE_PYTHON)
    assert done.returncode == 1
    assert done.stderr.splitlines() == [
        "Making .venv complete from pyproject.toml; the first time takes a minute or two.",
        "The packages could not be installed: the package index does not answer; "
        "connect to the network and give the same command again.",
    ]
    assert not (venv / "left over").exists()
    assert not (venv / "unfinished").exists()


def test_a_folder_that_cannot_be_written_is_named_in_one_sentence(fresh_clone: Path) -> None:
    (fresh_clone / ".venv").write_text("in the way: even root can make no folder here")
    done = run(fresh_clone, *BARE_PYTHON)
    assert done.returncode == 1
    assert done.stderr.splitlines()[1:] == [f"Deskhand can't write in {fresh_clone}: Not a directory."]


def test_python_that_is_too_old_says_so_before_anything_else(tmp_path: Path) -> None:
    pretend = "import runpy, sys; sys.version_info = (3, 10, 14); sys.version = '3.10.14 (main)'; "
    start = f"runpy.run_path({str(MANAGE)!r}, run_name='__main__')"
    done = subprocess.run([sys.executable, "-c", pretend + start], capture_output=True, text=True)
    assert done.returncode == 1
    assert done.stderr == "Deskhand needs Python 3.11 or newer, and this is Python 3.10.14.\n"


def test_bootstrap_can_be_parsed_by_old_pythons_so_that_they_can_say_so() -> None:
    ast.parse(MANAGE.read_text("utf-8"), feature_version=(3, 5))


def test_bootstrap_can_be_read_in_a_minute() -> None:
    assert len(MANAGE.read_text("utf-8").splitlines()) < 100
