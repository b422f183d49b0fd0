"""A cache never changes a verdict: what is not exactly what was stored is as good as nothing."""

import stat
from collections.abc import Callable
from pathlib import Path

import pytest

from fencepost.caching.store import Store


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store(tmp_path / "cache", limit=10_000)


def entry(store: Store) -> Path:
    (path,) = store.folder.iterdir()
    return path


def test_what_was_put_comes_back(store: Store) -> None:
    store.put("key", b"content")
    assert store.get("key") == b"content"
    assert store.get("another") is None


def test_the_last_one_put_counts(store: Store) -> None:
    store.put("key", b"old")
    store.put("key", b"new")
    assert store.get("key") == b"new"


@pytest.mark.parametrize(
    "damage",
    [
        pytest.param(lambda data: b"", id="empty"),
        pytest.param(lambda data: data[:-1], id="cut short"),
        pytest.param(lambda data: data[:20], id="cut in its head"),
        pytest.param(lambda data: data + b"x", id="longer"),
        pytest.param(lambda data: data[:-1] + b"T", id="one byte changed"),
        pytest.param(lambda data: b"\x80\x04K\x01." + data, id="a pickle"),
        pytest.param(lambda data: b"fencepost cache 9\n" + data[18:], id="another version"),
    ],
)
def test_a_damaged_entry_is_none(store: Store, damage: Callable[[bytes], bytes]) -> None:
    store.put("key", b"content")
    path = entry(store)
    path.write_bytes(damage(path.read_bytes()))
    assert store.get("key") is None


def test_an_entry_under_another_name_is_none(store: Store) -> None:
    store.put("key", b"content")
    path = entry(store)
    other = Store(store.folder.parent / "other")
    other.put("another", b"content")
    path.replace(entry(other))
    assert other.get("another") is None


def test_only_the_user_may_read_it(store: Store) -> None:
    store.put("key", b"content")
    assert stat.S_IMODE(store.folder.stat().st_mode) == 0o700
    assert stat.S_IMODE(entry(store).stat().st_mode) == 0o600


def test_the_oldest_entries_go_when_it_is_full(store: Store) -> None:
    for i in range(8):
        store.put(str(i), bytes(2_000))
    assert sum(path.stat().st_size for path in store.folder.iterdir()) <= 10_000
    assert store.get("7") == bytes(2_000)
    assert store.get("0") is None


def test_a_folder_that_cannot_be_written_is_silent(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    store = Store(tmp_path / "file" / "cache")
    store.put("key", b"content")
    assert store.get("key") is None
