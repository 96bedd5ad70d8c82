import numpy as np
import pytest

from strokewise.analysis.crank.strokes import firing_tdcs
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Mark, Profile, Sensor, ValveTiming, even_intervals_deg
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.passes import Pass
from strokewise.analysis.verdict.verdict import Candidate, Tdc, Verdict
from strokewise.gui.sayings import as_said


def _engine(cylinders=4, order=(1, 3, 4, 2), cycle="four-stroke", **more):
    cycle_deg = 720.0 if cycle == "four-stroke" else 360.0
    more.setdefault("sensors", (Sensor(cylinder=1),))
    return Profile(
        cylinders=cylinders,
        firing_order=tuple(order),
        firing_intervals_deg=even_intervals_deg(cylinders, cycle_deg),
        cycle=cycle,
        **more,
    )


def _decided(profile, firing_1=100.0, half=0.1):
    return Verdict(
        decided=True,
        reason=as_said("Nine compressions agree."),
        tdc=Tdc(
            Interval(firing_1 % 360, firing_1 % 360 - half, firing_1 % 360 + half), 1, "fit", 9
        ),
        firing_deg=firing_tdcs(profile, firing_1),
        probability=0.99999,
        candidates=(Candidate(firing_1, 0.99999),),
    )


def _half_known(cylinder=1, angle=100.0):
    return Verdict(
        decided=False,
        reason=as_said("Only one compression yet: turn on."),
        tdc=Tdc(Interval(angle, angle - 2, angle + 2), cylinder, "fit", 1),
        probability=0.7,
    )


_NOTHING = Verdict(decided=False, reason=as_said("The engine has not been turned yet."))


SWUNG_TDC = 100.0


def _swing(way=1, rpm=14.0, turn=0):
    after = np.arange(-75.0, 75.0, 1.5)
    pressure = 0.6 + 4.0 * np.exp(-0.5 * ((after + 6.0) / 28.0) ** 2)
    k = len(after)
    tdc = SWUNG_TDC + 360.0 * turn
    nodes = Nodes(
        after / (6.0 * rpm) + 100.0, tdc + way * after, np.full(k, way * 6.0 * rpm), pressure,
        np.full(k, 10.0), np.zeros(k, bool), 0.005, 0.15, 0.005,
    )  # fmt: skip
    return Pass(nodes, tdc, turn, way > 0)


@pytest.fixture
def swing():
    """A compression met by hand, one way or the other."""
    return _swing


@pytest.fixture
def swings():
    """Several, in the ways that are named."""
    return lambda *ways: tuple(_swing(way) for way in ways)


@pytest.fixture
def four():
    return _engine(
        name="Bench four",
        turning_back="allowed",
        valve_timing=ValveTiming(12, 48, 46, 14),
        static_advance_btdc_deg=6.0,
        marks=(
            Mark("pulley notch", 1, stated_atdc_deg=-6.0),
            Mark("dot", on="cam sprocket", stated_atdc_deg=0.0, turn="overlap"),
        ),
    )


@pytest.fixture
def twelve():
    return _engine(12, (1, 7, 5, 11, 3, 9, 6, 12, 2, 8, 4, 10), name="Twelve")


@pytest.fixture
def engine():
    return _engine


@pytest.fixture
def decided():
    return _decided


@pytest.fixture
def half_known():
    return _half_known


@pytest.fixture
def nothing():
    return _NOTHING
