"""Every test here has a working directory of its own, and a process that has checked a package before."""

from pathlib import Path

import pytest

from hostile.gate import FILES, check_files
from readers import ipc2581_files as ipc


@pytest.fixture(scope="session")
def warm(tmp_path_factory: pytest.TempPathFactory) -> None:
    """What is imported and built once is there already in the processes that are made of this one."""
    with pytest.MonkeyPatch.context() as patch:
        for files in (FILES, {"b.xml": ipc.file(ipc.board_of([]))}):
            patch.chdir(tmp_path_factory.mktemp("warm"))
            check_files(files, "", "--no-cache")


@pytest.fixture(autouse=True)
def here(warm: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The working directory."""
    monkeypatch.chdir(tmp_path)
    return tmp_path
