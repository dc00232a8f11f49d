"""Style, format and types hold over the whole checkout, by the project's own settings in pyproject.toml."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


@pytest.mark.parametrize(
    "command", [["ruff", "check", "."], ["ruff", "format", "--check", "."], ["mypy"]], ids=["style", "format", "types"]
)
def test_nothing_is_found(command):
    ran = subprocess.run(
        [sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True, timeout=300, check=False
    )
    assert ran.returncode == 0, f"{' '.join(command)}\n{ran.stdout}{ran.stderr}"
