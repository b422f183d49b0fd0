"""Several packages at once, in processes of this machine or on a cluster: nothing is lost, nothing stays behind."""

from __future__ import annotations

import datetime
import json
import os
import pickle
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from fencepost.cli.cluster import Cluster
from fencepost.cli.executor import InProcess
from fencepost.cli.job import Job, check_package, packed
from fencepost.cli.order import Order
from fencepost.cli.several import Processes
from fencepost.errors import UsageError
from fencepost.report import renderer
from rulepack import installed
from sketch import Sketch, write_package

ORDER = Order(datetime.date(2027, 1, 1), only=("transition-return", "net-agreement"), fail_on="note")
PROGRAM = [sys.executable, "-m", "fencepost"]


def board(x: float) -> Sketch:
    made = Sketch(layers=4, size=(30.0, 20.0), name="tide")
    for layer in (2, 3):
        made.pour("GND", layer)
    made.via("GND", (2, 2))
    made.trace("SIG", 1, [(5, 10), (x, 10)])
    made.via("SIG", (x, 10))
    made.trace("SIG", 4, [(x, 10), (25, 10)])
    return made


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    """Three packages that differ, and one that is broken."""
    place = tmp_path_factory.mktemp("packages")
    for i in range(3):
        write_package(place / f"fab{i}", board(12.0 + i).gerber())
    files = board(12.0).gerber()
    write_package(place / "broken", {**files, "tide-L1.gbr": files["tide-L1.gbr"][:-60]})
    return place


def told(answers) -> list[object]:
    """All but the time that it took."""
    shown = []
    for answer in answers:
        if answer.result is None:
            shown.append((answer.package, answer.code, answer.lines))
        else:
            report = json.loads(renderer("json")([answer.result]))
            shown.append({key: value for key, value in report.items() if key != "elapsed_s"})
    return shown


def in_order(executor, jobs) -> list[object]:
    numbered = dict(executor.run(jobs, lambda said: None))
    assert sorted(numbered) == list(range(len(jobs)))
    return told(numbered[i] for i in range(len(jobs)))


@pytest.fixture
def jobs(folder, monkeypatch) -> list[Job]:
    monkeypatch.chdir(folder)
    return [Job(Path(name), ORDER) for name in ("fab0", "fab1", "broken", "fab2", "nowhere")]


def test_answers_can_be_pickled_whole(jobs):
    answers = [check_package(job) for job in jobs]
    assert told(pickle.loads(pickle.dumps(answers))) == told(answers)
    assert [answer.code for answer in answers] == [0, 0, 2, 0, 2]


def test_a_package_that_was_read_before_is_checked_without_its_files(jobs, tmp_path, monkeypatch):
    expected = told([check_package(jobs[0])])
    job = pickle.loads(pickle.dumps(packed(jobs[0])))
    monkeypatch.chdir(tmp_path)
    assert told([check_package(job)]) == expected


def test_processes_answer_as_one_process_does(jobs):
    assert in_order(Processes(2), jobs) == in_order(InProcess(), jobs)


def test_a_cluster_answers_as_one_process_does(jobs):
    """A scheduler and a worker of Dask, on this machine."""
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None, protocol="tcp", host="127.0.0.1"
    ) as cluster:
        assert in_order(Cluster(cluster.scheduler_address), jobs) == in_order(InProcess(), jobs)


def test_a_cluster_that_does_not_answer_is_an_error_of_usage(jobs, monkeypatch):
    pytest.importorskip("distributed")
    monkeypatch.setattr("fencepost.cli.cluster.TIMEOUT", "1s")
    with pytest.raises(UsageError, match="--cluster"):
        list(Cluster("tcp://127.0.0.1:9").run(jobs, lambda said: None))


def test_without_the_library_a_cluster_is_an_error_that_says_what_to_install(jobs, monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(UsageError, match=r"fencepost\[cluster\]"):
        list(Cluster("tcp://127.0.0.1:9").run(jobs, lambda said: None))


def test_several_packages_in_one_call_share_a_summary_and_an_exit_code(folder):
    arguments = ["check", "fab0", "fab1", "fab2", "--jobs", "2", "--rules", "transition-return"]
    done = subprocess.run(
        [*PROGRAM, *arguments, "--fail-on", "note"], cwd=folder, capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (1, "")
    lines = done.stdout.splitlines()
    assert [line.split("/")[0] for line in lines if "[transition-return]" in line] == ["fab0", "fab1", "fab2"]
    assert lines[-1].startswith("3 packages: 3 notes")


def test_one_that_cannot_be_read_fails_the_whole_call_without_a_report(folder):
    arguments = ["check", "fab0", "broken", "--jobs", "2"]
    done = subprocess.run([*PROGRAM, *arguments], cwd=folder, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (2, "")
    assert "broken/tide-L1.gbr" in done.stderr


def test_a_process_that_dies_is_a_fault_of_its_package(folder, tmp_path):
    environment = installed(tmp_path, "if board.package == 'fab1':\n    os._exit(9)")
    arguments = ["check", "fab0", "fab1", "--jobs", "2", "--rules", "odd-one"]
    done = subprocess.run(
        [*PROGRAM, *arguments], cwd=folder, env=environment, capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout) == (3, "")
    assert done.stderr.startswith("fab1: fault: ")
    assert len(done.stderr.splitlines()) == 1


def test_a_fault_of_a_rule_in_another_process_ends_in_3(folder, tmp_path):
    environment = installed(tmp_path, "raise ZeroDivisionError('no')")
    arguments = ["check", "fab0", "fab1", "--jobs", "2", "--rules", "odd-one"]
    done = subprocess.run(
        [*PROGRAM, *arguments], cwd=folder, env=environment, capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout, len(done.stderr.splitlines())) == (3, "", 1)


def alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


@pytest.mark.skipif(os.name == "nt", reason="signals are others there")
@pytest.mark.parametrize("jobs", [1, 2])
def test_ctrl_c_ends_in_130_and_leaves_nothing_behind(folder, tmp_path, jobs):
    """The whole group is interrupted, as a terminal does it, once both packages are in the middle of a rule."""
    marks = tmp_path / "marks"
    marks.mkdir()
    environment = installed(tmp_path, f"pathlib.Path({str(marks)!r}, str(os.getpid())).touch()\ntime.sleep(60)")
    arguments = [
        "check",
        "fab0",
        "fab1",
        "--jobs",
        str(jobs),
        "--rules",
        "odd-one",
        "--output",
        f"json={tmp_path}/o.json",
    ]
    process = subprocess.Popen(
        [*PROGRAM, *arguments], cwd=folder, env=environment, start_new_session=True,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        # Whoever runs the tests in the background may have told them to ignore it.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )  # fmt: skip
    patience = time.monotonic() + 60
    while len(list(marks.iterdir())) < jobs and time.monotonic() < patience and process.poll() is None:
        time.sleep(0.05)
    os.killpg(process.pid, signal.SIGINT)
    out, err = process.communicate(timeout=60)
    assert (process.returncode, out, err.strip()) == (130, "", "")
    pids = [int(mark.name) for mark in marks.iterdir()]
    assert len(pids) == jobs
    assert [pid for pid in pids if alive(pid)] == []
    assert not (tmp_path / "o.json").exists()
