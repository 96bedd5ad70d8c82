"""Which compressions the joint fit takes, and what becomes of slips and open valves: as kept.

A clamp that slipped is an answer out by as much, and a valve that is open where the fit takes the
cylinder for shut drags TDC along. Each way that the fit may go is gone here once, by whole turns
made on paper: first, on from an earlier answer, after a slip early, late, small and twice, with the
last compression alone elsewhere, with a compression release.

    PYTHONPATH=tests/suite python tests/suite/suite_kept.py tests/analysis/tdc
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from suite_kept import held, turns_at
from suite_turned import BARE, ENGINE, SENSOR, UNSAID, compressions, turned

from strokewise.analysis.profile import Profile, Sensor
from strokewise.analysis.tdc import doubts
from strokewise.analysis.tdc import joint_fit as joining
from strokewise.analysis.tdc.attempt import Attempt
from strokewise.analysis.tdc.coarse import FINE_PASSES, SensorTrace, best_passes, coarse_fit
from strokewise.analysis.tdc.doubts import parameters_strange
from strokewise.analysis.tdc.fit import FINAL, Fit, fit_passes
from strokewise.analysis.tdc.joint_fit import Fitted, joint_fit
from strokewise.analysis.tdc.pass_tdc import PassTdc, step_in
from strokewise.analysis.tdc.priors import priors_for
from strokewise.analysis.tdc.shut_window import worst_of
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.passes import humps_of, runs_of

FITTED = 2e-4


def trace(nodes: Nodes, profile: Profile = ENGINE, sensor: Sensor = SENSOR) -> SensorTrace:
    known = profile is not BARE
    return SensorTrace(
        nodes, runs_of(nodes), humps_of(nodes), profile, sensor, 0.2 if known else 50.0
    )


def told(found: Fitted | None) -> Any:
    if found is None:
        return None
    return {
        "tdc": found.fit.tdc_deg,
        "cost": found.fit.cost,
        "passes": [[p.tdc_deg, len(p.nodes), float(p.time_s[0])] for p in found.passes],
        "best": [float(p.time_s[0]) for p in found.best],
        "fitted": list(found.fit.runs.time_s.shape),
        "notices": found.notices,
        "drift": found.drift_deg,
        "second": found.second_opinion,
        "reach": found.reach,
        "doubt": found.doubt,
        "other": found.other,
    }


def part(nodes: Nodes, share: float) -> Nodes:
    return nodes.only(np.arange(len(nodes)) < share * len(nodes))


def released(nodes: Nodes, before_deg: float = 0.0, after_deg: float = 0.0) -> Nodes:
    """Return the same with a valve open further into what is taken as the closed part."""
    away = (nodes.angle_deg - 40.0 + 360.0) % 720.0 - 360.0
    opened = (away < -before_deg) & (away > -140.0) if before_deg else away > 999.0
    opened |= (away > after_deg) & (away < 140.0) if after_deg else away > 999.0
    bar = np.where(opened, 1.0 + 0.002 * np.sin(away), nodes.pressure_bar)
    return replace(nodes, pressure_bar=bar)


def drifting(nodes: Nodes, by_deg: float) -> Nodes:
    """Return the same with an encoder that slides by so much with every turn."""
    return replace(nodes, angle_deg=nodes.angle_deg * (1.0 + by_deg / 360.0))


@cache
def six() -> SensorTrace:
    return trace(turned(6))


@cache
def three() -> Fitted:
    found = joint_fit(trace(part(turned(6), 0.5)))
    assert found is not None
    return found


def on(nodes: Nodes, earlier: Fitted) -> Any:
    return told(joint_fit(trace(nodes), earlier=earlier))


CASES: dict[str, Callable[[], Any]] = {
    "first": lambda: told(joint_fit(six())),
    "first, nothing known": lambda: told(joint_fit(trace(turned(3), BARE, UNSAID))),
    "first, the response unsaid, running": lambda: told(
        joint_fit(trace(turned(3, 900.0), replace(ENGINE, sensors=(UNSAID,)), UNSAID))
    ),
    "first, by hand": lambda: told(joint_fit(trace(turned(2, 18.0)))),
    "nothing": lambda: told(joint_fit(trace(part(turned(1), 0.02)))),
    "on from three": lambda: on(turned(6), three()),
    "on from three, twice as many": lambda: told(
        joint_fit(
            trace(turned(4), replace(ENGINE, sensors=(UNSAID,)), UNSAID),
            earlier=replace(three(), other=replace(three().other, before_deg=0.7, sought_in=9)),
        )
    ),
    "on from three that stood elsewhere": lambda: on(
        turned(6),
        replace(three(), fit=replace(three().fit, tdc_deg=three().fit.tdc_deg.shifted(3))),
    ),
    "on from three, slipped since": lambda: on(turned(6, slip=3.0, at=4), three()),
    "slipped after the first": lambda: told(joint_fit(trace(turned(5, slip=2.0, at=1)))),
    "slipped twice": lambda: told(
        joint_fit(
            trace(
                replace(
                    turned(9, slip=2.5, at=3),
                    angle_deg=turned(9, slip=2.5, at=3).angle_deg
                    - 4.0 * (turned(9).angle_deg > 40.0 + 720.0 * 5.5),
                )
            )
        )
    ),
    "the last elsewhere": lambda: told(joint_fit(trace(turned(4, slip=-3.0, at=3)))),
    "two, elsewhere": lambda: told(joint_fit(trace(turned(2, slip=-2.0, at=1)))),
    "two, about one": lambda: told(joint_fit(trace(turned(2)))),
    "three, the second elsewhere": lambda: told(joint_fit(trace(turned(3, slip=2.0, at=1)))),
    "drifting": lambda: told(joint_fit(trace(drifting(turned(7), 0.6)), drift_deg=0.6)),
    "drifting, they say": lambda: told(joint_fit(trace(turned(5)), drift_deg=-0.6)),
    "released": lambda: told(joint_fit(trace(released(turned(4), 55.0)))),
    "opened early": lambda: told(joint_fit(trace(released(turned(4), 0.0, 70.0)))),
    "coarse": lambda: [
        [fit.tdc_deg, fit.cost, list(fit.runs.time_s.shape)]
        for shown in (six(), trace(turned(2, 18.0)))
        for fit in (coarse_fit(shown, joining.reach_of(ENGINE)),)
        if fit is not None
    ],
    "a part of it": lambda: [
        [len(shown.nodes), shown.humps, len(shown.runs)]
        for shown in (six().part(0, len(six().nodes)), six().part(300, 900), six().part(0, 5))
    ],
}


@pytest.mark.parametrize("name", CASES)
def test_the_compressions_and_their_fit_are_those_kept(name: str) -> None:
    held(__file__, name, CASES, relative=FITTED)


@cache
def strange(rpm: float) -> Fit:
    return fit_passes(
        compressions((rpm, 0.9 * rpm), 0.4), ENGINE, SENSOR, zero_sigma_bar=0.2, stage=FINAL
    )


@pytest.mark.parametrize(
    ("rpm", "cut_off", "told_off"),
    [(220.0, False, True), (220.0, True, False), (20.0, False, False)],
)
def test_parameters_of_no_engine_are_refused_by_starter_and_with_the_peak_alone(
    rpm: float, cut_off: bool, told_off: bool
) -> None:
    """By hand losses of any shape rule, and flanks alone hardly tell the parameters."""
    fit = strange(rpm)
    known = priors_for(ENGINE, SENSOR, zero_sigma_bar=0.2, speed_rpm=rpm)
    ratio = next(p for p in known if p.name == "log_clearance")
    values = {p.name: np.full(2, p.mean) for p in known}
    values["log_clearance"] = np.full(2, ratio.mean - 20.0 * ratio.sigma)
    runs = (
        replace(fit.runs, used=fit.runs.used & (fit.runs.pressure_bar < 6.0))
        if cut_off
        else fit.runs
    )
    bent = replace(fit, values=values, runs=runs)
    assert bent.runs.cut_off is cut_off
    assert (parameters_strange(bent, known) is not None) is told_off


def test_strange_together_counts_from_its_limit_and_only_with_much_left_over() -> None:
    fit = strange(220.0)
    known = priors_for(ENGINE, SENSOR, zero_sigma_bar=0.2, speed_rpm=220.0)
    shared = [p for p in known if not p.per_pass and p.name not in doubts.NO_MEASURE]

    def bent(sigmas: float, cost: float) -> Fit:
        values = {p.name: np.full(2, p.mean) for p in known}
        for p in shared:
            sigma = max(p.sigma, doubts.GAIN_SIGMA) if p.name == "log_gain" else p.sigma
            values[p.name] = np.full(2, p.mean + sigmas * sigma)
        return replace(fit, values=values, cost=cost)

    least = (doubts.STRANGE_TOGETHER / len(shared)) ** 0.5
    assert least < doubts.STRANGE_SIGMAS
    found = turns_at(
        lambda s: parameters_strange(bent(s, 2.0 * doubts.FITS_WELL), known) is not None, 0.0, 7.0
    )
    assert found == pytest.approx(least)
    assert parameters_strange(bent(1.5 * least, doubts.FITS_WELL), known) is None
    assert doubts.strange_but_fits(bent(1.5 * least, doubts.FITS_WELL), known)
    assert not doubts.strange_but_fits(bent(1.5 * least, 1.01 * doubts.FITS_WELL), known)
    assert not doubts.strange_but_fits(bent(0.9 * least, doubts.FITS_WELL), known)


def test_the_worst_compression_is_by_what_was_used_of_it() -> None:
    """A clipped stretch leaves nothing over: its misses are the converter's."""
    fit = strange(220.0)
    model, used = fit.runs.pressure_bar.copy(), fit.runs.used.copy()
    model[0, 20] += 0.5
    model[1, 10:30] += 2.0
    used[1, 10:30] = False
    assert worst_of(replace(fit, model_bar=model)) == 1
    assert worst_of(replace(fit, model_bar=model, runs=replace(fit.runs, used=used))) == 0
    none = np.zeros_like(used)
    none[0] = used[0]
    level = replace(fit, model_bar=fit.runs.pressure_bar, runs=replace(fit.runs, used=none))
    assert worst_of(level) == 0


def test_two_compressions_stand_apart_by_what_their_joint_fit_leaves() -> None:
    """One against one has no scatter to tell a slip by; from twice and a half a sound fit's on."""
    found = Attempt(strange(220.0), compressions((220.0, 198.0)), (), joining.UNKNOWN_REACH)
    near = PassTdc(np.array([0.0, 0.1]), np.array([0.02, 0.02]))
    assert step_in(near) is None

    def apart(cost: float) -> bool:
        at = joining._first_after(replace(found, fit=replace(found.fit, cost=cost)), near)
        assert at in (None, 1)
        return at == 1

    assert turns_at(apart, 0.5, 9.0) == pytest.approx(2.5)
    more = replace(found, best=compressions((220.0, 198.0, 210.0)))
    assert joining._first_after(replace(more, fit=replace(found.fit, cost=9.0)), near) is None
    assert FINE_PASSES == 10
    assert len(best_passes(compressions((220.0,) * 12), FINE_PASSES)) == 10


def test_a_drift_of_the_peaks_must_show_in_tdc_by_half() -> None:
    best = compressions((220.0,) * 4)

    def drifts(slope: float) -> bool:
        off = slope * np.array([p.turn for p in best], float)
        return joining._drifts(best, PassTdc(off, np.full(4, 0.02)), -0.6)

    assert turns_at(drifts, 0.0, -1.0) == pytest.approx(-0.3)
    few = PassTdc(np.zeros(3), np.full(3, 0.02))
    assert joining._drifts(best[:3], few, 0.6) is (joining.TDC_DRIFT_PASSES > 3)
    same = tuple(replace(p, turn=2) for p in best)
    assert joining._drifts(same, PassTdc(np.zeros(4), np.full(4, 0.02)), 0.6)
