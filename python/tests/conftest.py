"""What the tests share: the project's folder, its demo cases, and the command line to hold answers against."""

import json
import os
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
#: Histories of a test [-]: two replicates, the fewest there are.
HISTORIES = 32_768


@pytest.fixture(scope="session")
def cases() -> Path:
    """Folder of the demo cases."""
    return ROOT / "demo" / "cases"


@pytest.fixture(scope="session")
def street(cases: Path) -> Path:
    """The car of the main example."""
    return cases / "street_daily.toml"


@pytest.fixture(scope="session")
def command_line():
    """Runs the program with arguments and reads its JSON, but of commands that only write files (``answers=False``);
    ``FERROWANE`` names the program that was built."""
    program = os.environ.get("FERROWANE")
    if not program:
        pytest.fail("FERROWANE has to name the built program; check.sh sets it")

    def answer(*arguments, answers=True):
        words = [program, *map(str, arguments), *(["--format", "json"] if answers else [])]
        run = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=True)
        return json.loads(run.stdout) if answers else None

    return answer
