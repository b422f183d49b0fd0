"""What holds for every test."""

import os
from pathlib import Path

import pytest
from hypothesis import settings

settings.register_profile("seeded", derandomize=True, deadline=None)
settings.register_profile("random", deadline=None, print_blob=True)
# The same examples in every run, so that a run says something of the change and not of the dice; nothing is timed.
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "seeded"))


@pytest.fixture(autouse=True)
def cache_of_its_own(tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest, monkeypatch) -> None:
    """No test finds what another one kept, or the user's own cache."""
    folder: Path = tmp_path_factory.getbasetemp() / "caches" / f"{abs(hash(request.node.nodeid)):x}"
    monkeypatch.setenv("FENCEPOST_CACHE", str(folder))
