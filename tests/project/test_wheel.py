"""What is installed: the package with its data files, and nothing else."""

import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

ROOT = Path(__file__).parents[2]


def test_the_wheel_holds_only_the_package_and_its_data(tmp_path: Path) -> None:
    copy = tmp_path / "source"
    shutil.copytree(ROOT, copy, ignore=shutil.ignore_patterns(".*", "build", "*.egg-info", "__pycache__"))
    subprocess.run(
        [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--no-build-isolation", "-w", tmp_path, copy],
        check=True,
        capture_output=True,
    )
    (wheel,) = tmp_path.glob("*.whl")
    names = set(zipfile.ZipFile(wheel).namelist())
    inside = {name for name in names if not name.startswith("retroaldol-")}
    assert {name.split("/")[0] for name in inside} == {"kinetics"}
    source = ROOT / "kinetics"
    wanted = {
        path.relative_to(ROOT).as_posix()
        for path in source.rglob("*")
        if path.suffix in (".py", ".toml", ".mplstyle", ".html", ".css", ".js", ".typed") and "__pycache__" not in path.parts
    }
    assert inside == wanted
