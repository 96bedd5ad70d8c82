"""Nothing is shown as sure that the truth of the moment contradicts, whatever fails and when.

A few of the runs of ``tests/benchmarks/live_truth.py``, which makes hundreds.
"""

import importlib.util
from pathlib import Path

import pytest

SCRIPT = Path(__file__).parents[2] / "benchmarks" / "live_truth.py"


@pytest.fixture(scope="module")
def runs():
    spec = importlib.util.spec_from_file_location("live_truth", SCRIPT)
    module = importlib.util.module_from_spec(spec)
    import sys

    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    yield module
    del sys.modules[spec.name]


def said(faulty, runs):
    looks = runs.looks_of(faulty)
    assert any(look.off_deg is not None for look in looks)
    return looks, runs.wrongs_of(faulty, looks)


@pytest.mark.parametrize("number", range(4))
def test_faults_at_random_moments(number, runs, request):
    number += request.config.getoption("--first-live")
    looks, wrongs = said(runs.drawn(number), runs)
    print(f"run {number}: shown wrong {[round(w.end_s - w.begin_s, 2) for w in wrongs]} s")
    assert not [w for w in wrongs if w.late_s > 0], wrongs
    assert looks


@pytest.mark.parametrize(
    ("kind", "for_s", "by_deg"),
    [("restart", 3.0, 0.0), ("replug", 3.0, 0.0), ("death", 0.0, 0.0), ("freeze", 1.2, 0.0),
     ("slip", 0.0, 180.0)],
)  # fmt: skip
def test_each_fault_alone(kind, for_s, by_deg, runs):
    base = runs.base_of("cranked", 700, 9.0)
    faulty = runs.Faulty(base, (runs.Fault(kind, 4.0, for_s, by_deg),))
    looks, wrongs = said(faulty, runs)
    assert not [w for w in wrongs if w.late_s > 0], wrongs
    if kind == "death":
        assert not any(look.off_deg is not None for look in looks if look.at_s > 6.0)
