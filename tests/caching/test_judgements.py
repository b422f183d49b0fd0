"""A judgement is taken from the cache only where nothing it depends on has changed; then every report is the same."""

import datetime
import os
import stat
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from fencepost.caching import keys
from fencepost.caching.judgements import decoded, encoded, judgement_key, keep_judgement, kept_judgement
from fencepost.caching.store import Store, user_store
from fencepost.checking.evidence import Spot
from fencepost.cli.job import Answer, Job, check_package
from fencepost.cli.order import Order
from fencepost.cli.parcel import Parcel
from fencepost.intake import package_from
from fencepost.placement.need import Need
from fencepost.report import renderer
from fencepost.report.result import Judgement, RuleInfo
from fencepost.settings.load import load
from handmade import FINDING, RESULT
from rulepack import installed
from sketch import Sketch, write_package

TODAY = datetime.date(2027, 1, 1)
PROGRAM = [sys.executable, "-m", "fencepost", "check", "fab"]
JUDGEMENT = Judgement(
    board=RESULT.board,
    assumptions=RESULT.assumptions,
    findings=(replace(FINDING, remarks=()), FINDING),
    unchecked=RESULT.unchecked,
    warnings=RESULT.warnings,
    rules=(RuleInfo("transition-return", "finds", "page", FINDING.severity, 0.5),),
)


def sketch() -> Sketch:
    """A transition without a tie."""
    board = Sketch(layers=4, size=(30.0, 20.0), name="tide")
    for layer in (2, 3):
        board.pour("GND", layer)
    board.via("GND", (2, 2))
    board.trace("SIG", 1, [(5, 10), (12, 10)])
    board.via("SIG", (12, 10))
    board.trace("SIG", 4, [(12, 10), (25, 10)])
    return board


FILES = sketch().gerber()


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A working directory with a package that has a finding, and settings."""
    monkeypatch.chdir(tmp_path)
    write_package(tmp_path / "fab", FILES)
    (tmp_path / "fencepost.toml").write_text('[board]\nfrequency = "1 GHz"\n')
    return tmp_path


def checked(today: datetime.date = TODAY, cached: bool = True) -> Answer:
    return check_package(Job(Path("fab"), Order(today, cached=cached)))


def taken_from_cache(answer: Answer) -> bool:
    return "assembling" not in answer.seconds


def reports(answer: Answer) -> dict[str, str]:
    """All of them, as if no time had passed."""
    assert answer.result is not None
    rules = tuple(replace(rule, seconds=0.0) for rule in answer.result.rules)
    still = replace(answer.result, elapsed_s=0.0, rules=rules)
    return {kind: renderer(kind)([still]) for kind in ("text", "json", "sarif", "junit", "github", "gitlab")}


def test_there_and_back() -> None:
    """But for times, and for what is only drawn."""
    drawn = replace(FINDING, evidence=(Spot(1.0, 2.0, "tie"),), mend=(Need((1.0, 2.0)),))
    back = decoded(encoded(replace(JUDGEMENT, findings=(drawn,))))
    assert back == replace(JUDGEMENT, findings=(FINDING,), rules=(replace(JUDGEMENT.rules[0], seconds=0.0),))


def test_a_second_check_says_the_same_in_every_format(here: Path) -> None:
    fresh, first, second = checked(cached=False), checked(), checked()
    assert (taken_from_cache(first), taken_from_cache(second)) == (False, True)
    assert first.result is not None
    assert first.result.findings
    assert reports(second) == reports(first) == reports(fresh)


def parcel(name: str = "fab", settings: dict[str, object] | None = None, **files: bytes) -> Parcel:
    return Parcel(package_from(name, {**FILES, **files}), load(None, settings))


def key(of: Parcel, only: tuple[str, ...] = (), skip: tuple[str, ...] = ()) -> str:
    return judgement_key(of.package, of.loaded, only, skip)


LAYER = "tide-L1.gbr"
KEYS = {
    "nothing": key(parcel()),
    "a byte of a file": key(parcel(**{LAYER: FILES[LAYER].replace(b"M02*", b"G04*\nM02*")})),
    "a file more": key(parcel(**{"tide-copy.gbr": FILES[LAYER]})),
    "the package's name": key(parcel("fab2")),
    "a setting": key(parcel(settings={"board": {"frequency": "1 GHz"}})),
    "another value of it": key(parcel(settings={"board": {"frequency": "2 GHz"}})),
    "a rule's setting": key(parcel(settings={"rules": {"transition-return": {"severity": "note"}}})),
    "rules to run": key(parcel(), only=("rim-pitch",)),
    "rules to leave out": key(parcel(), skip=("rim-pitch",)),
}


def test_a_key_stands_for_every_input() -> None:
    assert len(set(KEYS.values())) == len(KEYS)


def test_the_order_in_which_rules_are_named_is_no_change() -> None:
    assert key(parcel(), only=("a", "b")) == key(parcel(), only=("b", "a", "b"))


@pytest.mark.parametrize("of", ["program", "rule_packs", "environment"])
def test_a_key_stands_for_the_code_and_what_it_runs_on(of: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(f"fencepost.caching.judgements.{of}", lambda: "another")
    assert key(parcel()) != KEYS["nothing"]


def test_code_is_told_by_its_content(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "tidepack").mkdir()
    helper = tmp_path / "tidepack" / "helper.py"
    (tmp_path / "tidepack" / "__init__.py").write_text("")
    helper.write_text("LIMIT = 1\n")
    monkeypatch.syspath_prepend(str(tmp_path))
    before = keys.code_of("tidepack")
    assert keys.code_of("tidepack") == before != "none"
    helper.write_text("LIMIT = 2\n")
    assert keys.code_of("tidepack") != before
    assert keys.code_of("no_such_package_anywhere") == "none"


@pytest.mark.parametrize(
    "change",
    [
        pytest.param(lambda: Path("fencepost.toml").write_text('[board]\nfrequency = "2 GHz"\n'), id="settings"),
        pytest.param(lambda: Path("fab", LAYER).write_bytes(FILES[LAYER].replace(b"M02*", b"G04*\nM02*")), id="file"),
        pytest.param(lambda: Path("fab", LAYER).rename(Path("fab", "renamed.gbr")), id="name"),
    ],
)
def test_a_change_is_checked_anew(here: Path, change) -> None:
    checked()
    change()
    again = checked()
    assert not taken_from_cache(again)
    assert reports(again) == reports(checked(cached=False))


def test_a_waiver_runs_out_though_nothing_else_has_changed(here: Path) -> None:
    waiver = '[[waive]]\nrule = "transition-return"\nreason = "slow"\nuntil = 2027-01-31\n'
    (here / "fencepost.toml").write_text(waiver)
    during, after = checked(), checked(datetime.date(2027, 2, 1))
    assert taken_from_cache(after)
    assert during.result is not None and after.result is not None
    assert [len(result.waived) for result in (during.result, after.result)] == [1, 0]
    assert len(after.result.findings) == len(during.result.findings) + 1


@pytest.mark.parametrize("data", [b"", b"\xc1", b"\x90", encoded(JUDGEMENT)[:-1], encoded(JUDGEMENT) + b"x"])
def test_what_is_no_judgement_is_as_good_as_none(tmp_path: Path, data: bytes) -> None:
    store = Store(tmp_path / "cache")
    store.put("key", data)
    assert kept_judgement(store, "key") is None
    keep_judgement(store, "key", JUDGEMENT)
    assert kept_judgement(store, "key") is not None


def test_damaged_entries_do_not_change_the_verdict(here: Path) -> None:
    first = checked()
    for entry in user_store().folder.iterdir():
        data = entry.read_bytes()
        entry.write_bytes(data[:-1] + bytes([data[-1] ^ 1]))
    again = checked()
    assert not taken_from_cache(again)
    assert reports(again) == reports(first)


@pytest.mark.skipif(not hasattr(os, "getuid"), reason="this system has no such modes")
@pytest.mark.parametrize("mode", [0o770, 0o707, 0o777])
def test_a_folder_that_others_may_write_to_is_not_used(here: Path, mode: int) -> None:
    checked()
    folder = user_store().folder
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    folder.chmod(mode)
    assert not taken_from_cache(checked())


def test_no_cache_takes_nothing_and_keeps_nothing(here: Path) -> None:
    folder = user_store().folder
    for option, kept in (("--no-cache", False), ("--quiet", True), ("--no-cache", True)):
        done = subprocess.run([*PROGRAM, "--verbose" if option == "--no-cache" else "-q", option], capture_output=True,
                              text=True, check=False)  # fmt: skip
        assert done.returncode == 1
        assert folder.exists() is kept
        assert ("assembling" in done.stderr) is (option == "--no-cache")


def test_a_rule_that_was_edited_is_run_again(here: Path, tmp_path: Path) -> None:
    """The same program, the same package; only the code of an installed rule pack differs."""
    (tmp_path / "pack").mkdir()
    body = "yield self.unchecked('{}')"
    environment = installed(tmp_path / "pack", body.format("the first"))
    command = [*PROGRAM, "--rules", "odd-one"]
    said = [subprocess.run(command, env=environment, capture_output=True, text=True, check=False).stdout]
    code = tmp_path / "pack" / "odd_pack.py"
    code.write_text(code.read_text().replace("the first", "the second"))
    said += [subprocess.run(command, env=environment, capture_output=True, text=True, check=False).stdout]
    assert ["the first" in said[0], "the second" in said[1]] == [True, True]
