"""Do compressions come as often as the profile says that a cylinder's do?"""

from __future__ import annotations

import pytest

from strokewise.analysis.trace.passes import Hump
from strokewise.analysis.trace.spacing import burning_otherwise, one_each, wrong_ratio


def humps(*angles_deg: float, way: int = 1) -> tuple[Hump, ...]:
    return tuple(Hump(10 * n, a, 12.0, 11.0, way, True) for n, a in enumerate(angles_deg))


def spaced(every_deg: float, times: int) -> tuple[Hump, ...]:
    return humps(*(40.0 + every_deg * n for n in range(times)))


def refuses(some: tuple[Hump, ...], rpm: float = 280.0) -> bool:
    said = wrong_ratio(some, [rpm] * len(some))
    return said is not None and said.code == "compressions-come-otherwise"


@pytest.mark.parametrize(
    ("every_deg", "fewest"), [(1440.0, 3), (1443.0, 3), (864.0, 4), (648.0, 4)]
)
def test_a_wrong_ratio_is_told_by_as_many_as_it_takes(every_deg: float, fewest: int):
    """Three a cycle late were a stroke called wrong: a ratio of twice as much (engine 1143275)."""
    assert refuses(spaced(every_deg, fewest))
    assert not refuses(spaced(every_deg, fewest - 1))


@pytest.mark.parametrize("times", [3, 4, 6])
def test_a_cylinders_own_spacing_is_none(times: int):
    assert not refuses(spaced(720.0, times))
    assert not refuses(spaced(360.0, times))


def test_one_that_was_lost_is_no_ratio():
    assert not refuses(humps(0.0, 1440.0, 2160.0))
    assert not refuses(humps(0.0, 720.0, 2160.0, 2880.0))


def test_by_hand_no_ratio_is_told_from_spacing():
    assert not refuses(spaced(1440.0, 4), rpm=30.0)


def test_pauses_make_several_peaks_in_one_compression():
    assert len(one_each(humps(0.0, 60.0, 720.0, 735.0, 1440.0))) == 3


def test_burning_compressions_may_move_but_not_by_a_ratio():
    assert burning_otherwise(spaced(720.0, 4)) is None
    assert burning_otherwise(humps(0.0, 745.0, 1430.0)) is None
    assert burning_otherwise(spaced(1440.0, 4)) is not None
    assert burning_otherwise(spaced(864.0, 4)) is not None
    assert burning_otherwise(spaced(864.0, 1)) is None
