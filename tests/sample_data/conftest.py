"""The script that makes the sample site is no package: its folder is put on the path here."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SITE = ROOT / "sample_data" / "site"

sys.path.insert(0, str(ROOT / "sample_data"))


@pytest.fixture(scope="session")
def committed() -> Path:
    """Folder of the files as they are in the repository."""
    return SITE


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder of the files as the script makes them now, in a process of its own."""
    folder = tmp_path_factory.mktemp("site")
    subprocess.run([sys.executable, str(ROOT / "sample_data" / "make_site.py"), str(folder)], check=True, timeout=120)
    return folder
