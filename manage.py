#!/usr/bin/env python3
"""Deskhand's commands: `python3 manage.py up`, `python3 manage.py test` and the rest. Only Python is needed.

Where this Python lacks what pyproject.toml lists, the command goes on inside .venv, made or completed first.
The file keeps to syntax that every Python 3 can parse, so that one which is too old can say so.
"""

import os
import subprocess
import sys

if sys.version_info < (3, 11):
    sys.exit("Deskhand needs Python 3.11 or newer, and this is Python " + sys.version.split()[0] + ".")

import tomllib
import venv
from importlib import metadata
from pathlib import Path

HERE = Path(__file__).resolve().parent
VENV = HERE / ".venv"
VENV_PYTHON = VENV / "bin" / "python"
UNFINISHED = VENV / "unfinished"  # stands while pip works; a .venv that was left in the middle is made anew


def requirements(extra: str) -> "list[str]":
    project = tomllib.loads((HERE / "pyproject.toml").read_text("utf-8"))["project"]
    return project["dependencies"] + project["optional-dependencies"].get(extra, [])


def are_installed(wanted: "list[str]") -> bool:
    try:
        from packaging.requirements import Requirement  # gunicorn brings it

        return all(metadata.version(each.name) in each.specifier for each in map(Requirement, wanted))
    except ImportError:  # which a package that can't be found raises as well
        return False


def prepare_venv(wanted: "list[str]") -> None:
    whole = VENV_PYTHON.exists() and not UNFINISHED.exists()
    if whole and Path(sys.prefix) != VENV:
        return  # where it still lacks something, it sees to that itself
    say("Making .venv complete from pyproject.toml; the first time takes a minute or two.")
    try:
        if not whole:
            venv.create(VENV, clear=True, with_pip=True)
        install(wanted)
    except subprocess.CalledProcessError:
        sys.exit("Python can't make .venv: install its venv module (Debian: apt install python3-venv).")
    except OSError as problem:
        sys.exit("Deskhand can't write in " + str(HERE) + ": " + str(problem.strerror) + ".")


def install(wanted: "list[str]") -> None:
    UNFINISHED.touch()
    pip = [str(VENV_PYTHON), "-m", "pip", "install", "--quiet", "--retries", "2", *wanted]
    done = subprocess.run(pip, stderr=subprocess.PIPE, text=True)
    UNFINISHED.unlink()  # a pip that gives up has changed nothing: it fetches everything first
    if done.returncode:
        sys.exit("The packages could not be installed: " + why_pip_failed(done.stderr))


def why_pip_failed(complaint: str) -> str:
    if "Retrying" in complaint:
        return "the package index does not answer; connect to the network and give the same command again."
    errors = [line for line in complaint.splitlines() if line.startswith("ERROR: ")]
    return errors[-1][len("ERROR: ") :] if errors else "pip says nothing more; is the disk full?"


def say(sentence: str) -> None:
    print(sentence, file=sys.stderr, flush=True)


def main() -> None:
    testing = sys.argv[1:2] == ["test"]
    wanted = requirements("test" if testing else "")
    if not are_installed(wanted):
        prepare_venv(wanted)
        if Path(sys.prefix) != VENV:
            os.execv(VENV_PYTHON, [str(VENV_PYTHON), *sys.argv])
    if testing:
        sys.exit(subprocess.call([sys.executable, "-m", "tests", *sys.argv[2:]], cwd=HERE))

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
