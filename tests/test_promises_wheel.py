"""An installed package answers as the checkout does: the wheel carries rules, climates and scenarios."""

import importlib.util
import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    if importlib.util.find_spec("hatchling") is None:
        pytest.skip("the build backend hatchling is not installed here")
    target = tmp_path_factory.mktemp("wheel")
    script = (
        "import sys\nfrom hatchling.builders.wheel import WheelBuilder\n"
        "print(next(WheelBuilder(sys.argv[1]).build(directory=sys.argv[2], versions=['standard'])))"
    )
    ran = subprocess.run(
        [sys.executable, "-c", script, str(ROOT), str(target)], capture_output=True, text=True, timeout=300, check=False
    )
    assert ran.returncode == 0, ran.stderr
    return Path(ran.stdout.strip().splitlines()[-1])


def _under(folder: str, pattern: str) -> set[str]:
    return {
        path.relative_to(ROOT).as_posix()
        for path in (ROOT / folder).rglob(pattern)
        if path.is_file() and "__pycache__" not in path.parts
    }


def test_the_wheel_carries_everything_that_is_read(wheel):
    names = set(zipfile.ZipFile(wheel).namelist())
    for folder in ("rulesets", "climate_profiles", "scenarios"):
        wanted = {f"hiveweek/_content/{name}" for name in _under(folder, "*.yaml") | _under(folder, "*.csv")}
        assert wanted and wanted <= names, sorted(wanted - names)[:5]
    for pattern in ("*.py", "*.j2", "*.json", "*.css", "*.js"):
        wanted = {name.removeprefix("engine/") for name in _under("engine/hiveweek", pattern)}
        assert wanted <= names, sorted(wanted - names)[:5]
    schemas = {name for name in names if name.startswith("hiveweek/schemas/") and name.endswith(".schema.json")}
    assert "hiveweek/py.typed" in names and len(schemas) == len(_under("engine/hiveweek/schemas", "*")) > 0


def test_the_wheel_carries_nothing_else(wheel):
    """No tests, no maintainers' tools, no manual, no leavings of a build."""
    names = set(zipfile.ZipFile(wheel).namelist())
    assert {name.split("/")[0] for name in names if ".dist-info/" not in name} == {"hiveweek"}
    assert not any(
        part in ("tests", "docs", "upkeep", "__pycache__") for name in names for part in name.split("/")[:-1]
    ), sorted(names)
    kinds = {Path(name).suffix for name in names if ".dist-info/" not in name}
    assert kinds <= {".py", ".typed", ".json", ".j2", ".yaml", ".csv", ".css", ".js"}, kinds


def test_unpacked_away_from_the_checkout_it_gives_the_same_answer(wheel, tmp_path):
    place = tmp_path / "installed"
    zipfile.ZipFile(wheel).extractall(place)
    said = []
    for path in (place, ROOT / "engine"):
        env = {**os.environ, "PYTHONPATH": str(path), "HIVEWEEK_NO_CACHE": "1"}
        script = (
            "import sys, hiveweek\nsys.stderr.write(hiveweek.__file__)\nfrom hiveweek.cli.main import main\n"
            "sys.exit(main(['week', '--offline', '--json']))"
        )
        ran = subprocess.run(
            [sys.executable, "-c", script],
            capture_output=True,
            text=True,
            timeout=300,
            env=env,
            cwd=tmp_path,
            check=False,
        )
        assert ran.returncode == 0 and ran.stderr.startswith(str(path)), ran.stderr
        said.append(json.loads(ran.stdout))
    assert said[0] == said[1] and len(said[0]["apiaries"][0]["hives"]) == 8
