"""Liquid over the piston is told by the ratio that the fit wants, where one is stated."""

from dataclasses import replace

import numpy as np
import pytest
from suite_turned import ENGINE, compressions

from strokewise.analysis.estimate import Interval
from strokewise.analysis.tdc.fit import fit_passes
from strokewise.analysis.tdc.liquid import KNOWN_TO, TIMES_STATED, liquid_notices
from strokewise.analysis.trace.oddities import LIQUID
from strokewise.gui.sayings import say

STATED = replace(ENGINE, compression_ratio=9.0)


@pytest.fixture(scope="module")
def sound():
    passes = compressions((22.0, 18.0), tdc_deg=1.0)
    return fit_passes(passes, STATED, STATED.sensors[0])


def with_ratio(fit, ratio, sigma=0.05):
    values = {**fit.values, "log_clearance": np.full(2, np.log(ratio - 1.0))}
    return replace(fit, values=values, sigmas={**fit.sigmas, "log_clearance": sigma})


def test_a_sound_engine_is_not_told_of_liquid(sound):
    assert liquid_notices(sound, STATED) == ()
    assert liquid_notices(None, STATED) == ()


def test_far_less_space_than_stated_is_liquid_with_its_caution(sound):
    full = with_ratio(sound, 1.0 + 8.0 * 1.01 * TIMES_STATED)
    (told,) = liquid_notices(full, STATED)
    assert told.code == LIQUID
    assert say(told.remark).startswith("STOP TURNING: pressure rises as at a ratio of 16:1")
    assert liquid_notices(with_ratio(sound, 1.0 + 8.0 * 0.99 * TIMES_STATED), STATED) == ()


def test_where_no_ratio_is_stated_or_the_fit_hardly_knows_it_nothing_is_said(sound):
    full = with_ratio(sound, 31.0)
    assert liquid_notices(full, replace(STATED, compression_ratio=None)) == ()
    assert liquid_notices(with_ratio(sound, 31.0, 1.01 * KNOWN_TO), STATED) == ()


def test_a_fit_that_hardly_knows_tdc_tells_no_liquid(sound):
    """Worn cylinders that rose by half a bar by hand seemed full (benches 703006 and 703022)."""
    full = with_ratio(sound, 31.0)
    tdc = full.tdc_deg
    assert liquid_notices(full, STATED) != ()
    wide = replace(full, tdc_deg=Interval(tdc.value, tdc.value - 16.0, tdc.value + 16.0))
    assert liquid_notices(wide, STATED) == ()
