"""Diesels that burn a little, fast and about TDC, look much like air that is squeezed more."""

import pytest
from suite_bench import tdc_off_deg
from suite_random import answered

from strokewise.analysis.trace.burning import BURNS
from strokewise.gui.sayings import say


def test_where_compressions_come_later_and_higher_the_interval_holds_both():
    """One caught on its starter: ± 1.1° about a TDC 5.0° late, with a slipped clamp told of."""
    verdict, truth = answered(775008, "mixed", lag_known=False)
    tdc = verdict.tdc
    assert tdc is not None
    off = tdc_off_deg(tdc.angle_deg.value, truth)
    assert off > 3.0  # it is taken for a slip still
    assert tdc.angle_deg.low < tdc.angle_deg.value - off


@pytest.mark.parametrize("seed", [783071, 783110, 783192])
def test_a_charge_that_only_walls_of_a_furnace_could_have_warmed_burns(seed):
    """The middles of the flanks hardly come late, and TDC was 4° to 16° late, at ± 2° to 3°."""
    verdict, _ = answered(seed, "burning", lag_known=False)
    assert BURNS in [notice.code for notice in verdict.warnings]
    assert verdict.tdc is None
    assert "most likely it burns" in say(verdict.reason)
