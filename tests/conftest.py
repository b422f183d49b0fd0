"""What holds for every test."""

from pathlib import Path

import pytest


@pytest.fixture(autouse=True)
def cache_of_its_own(tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest, monkeypatch) -> None:
    """No test finds what another one kept, or the user's own cache."""
    folder: Path = tmp_path_factory.getbasetemp() / "caches" / f"{abs(hash(request.node.nodeid)):x}"
    monkeypatch.setenv("FENCEPOST_CACHE", str(folder))
