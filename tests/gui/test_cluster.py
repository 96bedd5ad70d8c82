"""A folder on a cluster: two workers, one killed in mid-run, and not one answer changes."""

import importlib.util
import os
import re
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
from suite_imports import ROOT

from strokewise.gui import cli

WORKERS = 2
FILES = 10
WAIT_S = 120.0
"""For a process to start or a folder to be answered, on a machine with much else to do."""

TIME_LEFT = re.compile(", some [0-9]+ min left")

needs_distributed = pytest.mark.skipif(
    importlib.util.find_spec("distributed") is None and not os.environ.get("CI"),
    reason="needs the extra [cluster]",
)


def begun(stack: ExitStack, *command: str) -> subprocess.Popen[str]:
    """Start a program that is ended with the test."""
    process = subprocess.Popen(
        [sys.executable, "-m", *command],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        env=os.environ | {"OPENBLAS_NUM_THREADS": "1"},
    )
    stack.callback(process.wait, WAIT_S)
    stack.callback(process.kill)
    assert process.stderr is not None
    stack.callback(process.stderr.close)
    return process


def until(process: subprocess.Popen[str], word: str) -> None:
    """Wait for a word in what a program says."""
    assert process.stderr is not None
    said = []
    for line in process.stderr:
        said.append(line)
        if word in line:
            return
    raise AssertionError("".join(said))


def free_port() -> int:
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        return int(held.getsockname()[1])


@pytest.fixture
def cluster(
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[tuple[str, list[subprocess.Popen[str]]]]:
    port = free_port()
    address = f"tcp://127.0.0.1:{port}"
    with ExitStack() as stack:
        scheduler = ["--host", "127.0.0.1", "--port", str(port), "--no-dashboard"]
        until(begun(stack, "distributed.cli.dask_scheduler", *scheduler), "Scheduler at")
        worker = [address, "--no-nanny", "--nthreads", "1", "--no-dashboard"]
        workers = [
            begun(stack, "distributed.cli.dask_worker", *worker, "--local-directory", str(folder))
            for folder in (tmp_path_factory.mktemp("worker") for _ in range(WORKERS))
        ]
        for each in workers:
            until(each, "Registered to")
        yield address, workers


@needs_distributed
def test_a_worker_killed_in_mid_run_changes_no_answer(
    cluster: tuple[str, list[subprocess.Popen[str]]],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    address, workers = cluster
    for number in range(FILES):
        shutil.copy(ROOT / "recordings" / "manifold.swr", tmp_path / f"{number:02}.swr")
    (tmp_path / "03.swr").write_bytes(b"no recording")
    asked = ["find", ".", "--json"]
    said, answered = tmp_path / "said.txt", tmp_path / "answered.txt"
    with said.open("w") as errors, answered.open("w") as lines:
        command = [sys.executable, "-m", "strokewise.gui", *asked, "--cluster", address]
        running = subprocess.Popen(command, stdout=lines, stderr=errors, cwd=tmp_path)
    deadline = time.monotonic() + WAIT_S
    try:
        while "1 of" not in said.read_text() and time.monotonic() < deadline:
            time.sleep(0.01)
        before = said.read_text()
        workers[0].kill()  # each has one begun, and more are waiting
        running.wait(WAIT_S)
    finally:
        running.kill()
        running.wait()
    assert f"1 of {FILES}: 00.swr" in before
    assert f"{FILES - 2} of {FILES}" not in before
    assert workers[1].poll() is None
    assert running.returncode == 2
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(tmp_path)
        assert cli.main(asked) == 2
    alone = capsys.readouterr()
    assert answered.read_text() == alone.out
    assert len(alone.out.splitlines()) == FILES - 1
    assert TIME_LEFT.sub("", said.read_text()) == TIME_LEFT.sub("", alone.err)


@needs_distributed
def test_an_address_where_no_cluster_answers_is_said_in_one_line(tmp_path: Path) -> None:
    """In a program of its own: after a refused connection the library's thread lives on."""
    shutil.copy(ROOT / "recordings" / "manifold.swr", tmp_path)
    address = f"tcp://127.0.0.1:{free_port()}"
    program = (
        "import sys\n"
        "from strokewise.gui import cli, cluster\n"
        "cluster.CONNECT_S = 0.5\n"
        f"sys.exit(cli.main(['find', {str(tmp_path)!r}, '--cluster', {address!r}]))\n"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert done.returncode == 2
    (line,) = done.stderr.splitlines()
    assert address in line


def test_a_cluster_without_its_library_says_what_to_install(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copy(ROOT / "recordings" / "manifold.swr", tmp_path)
    monkeypatch.setitem(sys.modules, "distributed", None)
    assert cli.main(["find", str(tmp_path), "--cluster", "tcp://127.0.0.1:1"]) == 2
    assert "pip install distributed" in capsys.readouterr().err
