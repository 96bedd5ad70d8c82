"""No test may leave a thread running or a port open. Warnings are errors already (pyproject)."""

import os
import signal
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

# As the command line does: the threads of numpy's algebra spin between matrices as small as ours,
# and two workers on two cores then wait for each other. Before anything here loads numpy.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

pytest.register_assert_rewrite("suite_said")
pytest_plugins = ["suite_compiled", "suite_bench", "suite_fits", "suite_timings", "suite_quick"]

# A thread that was told to stop may need a moment to notice: longer than any read timeout used.
GRACE_S = 2.0

# Threads that belong to the tools around a test, not to the test.
TOOL_THREADS = ("pydevd", "execnet")

OPEN_FILES = Path("/proc/self/fd")

QT_ABSENT = Path(__file__).parent / "qt_absent"


def pytest_addoption(parser: pytest.Parser) -> None:
    """Offer a run without Qt, here or in a program that a test starts; and other random runs."""
    parser.addoption("--no-qt", action="store_true", help="make PySide6 and pyqtgraph absent")
    parser.addoption(
        "--first-live", type=int, default=0, help="first of the random live runs with faults"
    )


def pytest_configure(config: pytest.Config) -> None:
    """Put modules that fail to import in front of the real ones."""
    if config.getoption("--no-qt"):
        sys.path.insert(0, str(QT_ABSENT))
        rest = os.environ.get("PYTHONPATH")
        os.environ["PYTHONPATH"] = os.pathsep.join([str(QT_ABSENT), *([rest] if rest else [])])


@pytest.fixture(scope="session", autouse=True)
def own_runtime_folder(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Keep apart what this run and what others on the machine announce: simulated boards."""
    os.environ["XDG_RUNTIME_DIR"] = str(tmp_path_factory.mktemp("runtime"))


def threads_running() -> set[threading.Thread]:
    """Return the threads that a test could have started."""
    return {
        thread
        for thread in threading.enumerate()
        if thread is not threading.main_thread() and not thread.name.startswith(TOOL_THREADS)
    }


def ports_open() -> set[tuple[int, str]]:
    """Return the terminals that this process holds open; none where there is no /proc."""
    found = set()
    for entry in OPEN_FILES.iterdir() if OPEN_FILES.is_dir() else ():
        try:
            target = os.readlink(entry)
        except OSError:  # the listing's own descriptor, closed by now
            continue
        if target.startswith(("/dev/pts/", "/dev/ptmx", "/dev/tty")):
            found.add((int(entry.name), target))
    return found


@pytest.fixture(autouse=True)
def leaves_nothing_behind() -> Iterator[None]:
    """Fail a test that leaves a thread running or a port open."""
    threads, ports = threads_running(), ports_open()
    yield
    deadline = time.monotonic() + GRACE_S
    while (left := threads_running() - threads) and time.monotonic() < deadline:
        time.sleep(0.01)
    assert not left, f"threads left running: {sorted(thread.name for thread in left)}"
    still_open = ports_open() - ports
    assert not still_open, f"ports left open: {sorted(still_open)}"


@pytest.fixture
def heeds_ctrl_c() -> Iterator[None]:
    """Heed Ctrl-C, here and in the programs a test starts, as from a terminal.

    A shell that starts the tests in the background lets them ignore it, and what they start too.
    """
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)
