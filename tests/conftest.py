"""No test may leave a thread running or a file, port or socket open. Warnings are errors already."""

import gc
import threading
import time
from collections.abc import Iterator

import pytest

# A thread that was told to stop may need a moment to notice: longer than any read timeout used.
GRACE_S = 2.0

# Threads that belong to the tools around a test, not to the test.
TOOL_THREADS = ("pydevd", "execnet", "ThreadPoolExecutor-hypothesis")


def _own_threads() -> set[threading.Thread]:
    return {
        thread
        for thread in threading.enumerate()
        if thread is not threading.main_thread() and not thread.name.startswith(TOOL_THREADS)
    }


@pytest.fixture(autouse=True)
def leaves_nothing_behind() -> Iterator[None]:
    """Fail a test after which a thread is still running or an open thing was dropped unclosed."""
    before = _own_threads()
    yield
    deadline = time.monotonic() + GRACE_S
    while (left := _own_threads() - before) and time.monotonic() < deadline:
        time.sleep(0.01)
    assert not left, f"threads left running: {sorted(thread.name for thread in left)}"
