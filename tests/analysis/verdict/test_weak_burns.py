"""Diesels that burn a little, fast and about TDC, look much like air that is squeezed more."""

import pytest
from suite_random import answered

from strokewise.analysis.trace.burning import BURNS
from strokewise.gui.sayings import say


@pytest.mark.parametrize("seed", [775008, 791048, 791056])
def test_where_compressions_come_later_as_no_slip_alone_makes_them_the_charge_burns(seed):
    """Each caught on its starter and was told to have slipped, with TDC 1.2° to 5° off."""
    verdict, truth = answered(seed, "mixed", lag_known=False)
    assert BURNS in [notice.code for notice in verdict.warnings]
    assert "clamp-slip" not in [notice.code for notice in verdict.warnings]
    assert verdict.tdc is None
    assert "no slip alone does" in say(verdict.reason)
    best = verdict.candidates[0]
    assert best.within_deg is not None
    off = (best.firing_1_deg - float(truth["firing"]["1"]) + 360.0) % 720.0 - 360.0
    assert abs(off) < best.within_deg


@pytest.mark.parametrize("seed", [783071, 783110, 783192])
def test_a_charge_that_only_walls_of_a_furnace_could_have_warmed_burns(seed):
    """The middles of the flanks hardly come late, and TDC was 4° to 16° late, at ± 2° to 3°."""
    verdict, _ = answered(seed, "burning", lag_known=False)
    assert BURNS in [notice.code for notice in verdict.warnings]
    assert verdict.tdc is None
    assert "most likely it burns" in say(verdict.reason)
