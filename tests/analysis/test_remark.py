"""A remark's facts: figures are figures, and nothing else is taken for one."""

import pytest

from strokewise.analysis.remark import remark


@pytest.mark.parametrize("fact", [3, 3.0])
def test_a_figure_is_a_number(fact):
    assert remark("clamp-slip", at_s=fact).figure("at_s") == 3.0
    assert isinstance(remark("clamp-slip", at_s=fact).figure("at_s"), float)


@pytest.mark.parametrize("fact", ["3.0", None, remark("flat"), (1.0, 2.0)])
def test_what_is_no_figure_is_not_read_as_one(fact):
    with pytest.raises(TypeError, match="clamp-slip: at_s is no figure"):
        remark("clamp-slip", at_s=fact).figure("at_s")


def test_a_figure_that_was_not_said_is_missed():
    with pytest.raises(KeyError):
        remark("clamp-slip").figure("at_s")
