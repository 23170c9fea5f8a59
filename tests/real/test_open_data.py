"""The fetch script refuses what is not the package asked for."""

import hashlib
import io
import sys
import tarfile
import zipfile
from dataclasses import dataclass, field, replace
from pathlib import Path

import pytest

from tests import open_data
from tests.open_data import PACKAGES, OpenDataError, Package, Tool, fetch


@dataclass(frozen=True)
class Local(Package):
    """A package that its client copies from a local file."""

    archive: Path = field(default=Path())

    def command(self, folder: Path) -> list[str]:
        """Copy the archive by a process, as a client would."""
        copy = "import shutil, sys; shutil.copy(sys.argv[1], sys.argv[2])"
        return [sys.executable, "-c", copy, str(self.archive), str(folder)]


@pytest.fixture
def zipped(tmp_path: Path) -> Local:
    """Make a wheel-like archive of one member."""
    archive = tmp_path / "thing-1.0.zip"
    with zipfile.ZipFile(archive, "w") as file:
        file.writestr("thing/data.txt", "heights")
        file.writestr("../escaped.txt", "no")
    return package(archive, "thing/data.txt")


def package(archive: Path, *members: str) -> Local:
    """Describe a local archive."""
    digest = hashlib.sha256(archive.read_bytes()).hexdigest()
    return Local(Tool.PIP, "thing", "1.0", digest, members, "Licence: none.", archive)


def test_members_come_out_with_their_notice(zipped: Local, tmp_path: Path) -> None:
    """Only the named member is unpacked, the licence lies beside it."""
    files = fetch(zipped, tmp_path / "cache")
    assert files["data.txt"].read_text() == "heights"
    assert sorted(path.name for path in files["data.txt"].parent.iterdir()) == ["NOTICE.txt", "data.txt"]
    assert not list(tmp_path.glob("**/escaped.txt"))


def test_a_second_call_needs_no_client(zipped: Local, tmp_path: Path) -> None:
    """What is in the cache is not fetched again."""
    fetch(zipped, tmp_path / "cache")
    zipped.archive.unlink()
    assert fetch(zipped, tmp_path / "cache")["data.txt"].is_file()


def test_another_hash_is_refused(zipped: Local, tmp_path: Path) -> None:
    """An archive that is not the published one leaves nothing in the cache."""
    with pytest.raises(OpenDataError, match="expected 0000"):
        fetch(replace(zipped, sha256="0" * 64), tmp_path / "cache")
    assert not list((tmp_path / "cache").iterdir())


def test_a_failing_client_gives_its_reason(zipped: Local, tmp_path: Path) -> None:
    """What the client said last is the reason of the skip."""
    with pytest.raises(OpenDataError, match=r"thing 1\.0: pip could not fetch it and said: .*No such file"):
        fetch(replace(zipped, archive=tmp_path / "nowhere"), tmp_path / "cache")


def test_a_missing_member_is_refused(zipped: Local, tmp_path: Path) -> None:
    """A package without the file is not the right one."""
    with pytest.raises(OpenDataError, match=r"no thing/other\.txt in it"):
        fetch(replace(zipped, members=("thing/other.txt",)), tmp_path / "cache")


def test_a_link_in_the_archive_is_refused(tmp_path: Path) -> None:
    """Only plain files are taken out of a tar archive."""
    archive = tmp_path / "thing.tgz"
    with tarfile.open(archive, "w:gz") as file:
        link = tarfile.TarInfo("package/data.txt")
        link.type, link.linkname = tarfile.SYMTYPE, "/etc/hostname"
        file.addfile(link)
    with pytest.raises(OpenDataError, match="not a plain file"):
        fetch(package(archive, "package/data.txt"), tmp_path / "cache")


def test_an_oversized_member_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A member that would unpack to more than expected is not unpacked."""
    monkeypatch.setattr(open_data, "LARGEST_MEMBER", 10)
    archive = tmp_path / "thing.tgz"
    with tarfile.open(archive, "w:gz") as file:
        entry = tarfile.TarInfo("package/data.txt")
        entry.size = 11
        file.addfile(entry, io.BytesIO(b"x" * 11))
    with pytest.raises(OpenDataError, match="11 bytes, more than 10"):
        fetch(package(archive, "package/data.txt"), tmp_path / "cache")


def test_the_cache_can_be_moved(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """``LOOPWRIGHT_OPEN_DATA`` names the cache folder; without it, it lies beside the tests."""
    monkeypatch.setenv("LOOPWRIGHT_OPEN_DATA", str(tmp_path))
    assert open_data.cache_folder() == tmp_path
    monkeypatch.delenv("LOOPWRIGHT_OPEN_DATA")
    assert open_data.cache_folder().name == ".cache"


@pytest.mark.parametrize("known", PACKAGES, ids=lambda known: known.name)
def test_every_package_is_pinned_and_says_whose_it_is(known: Package) -> None:
    """Version, hash and attribution are there for each, and no client is told where to look."""
    assert known.version
    assert len(known.sha256) == 64
    assert "©" in known.notice
    assert "licence" in known.notice.lower()
    assert not any("://" in word or "index" in word or "registry" in word for word in known.command(Path("x")))
