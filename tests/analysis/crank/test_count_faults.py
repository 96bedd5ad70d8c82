"""Lost counts by the encoder's index: found, placed in time, and not invented by turning back."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from strokewise.analysis.crank.count_faults import (
    CountFault,
    count_faults,
    count_notices,
    stated_otherwise,
)
from strokewise.analysis.profile import Encoder
from strokewise.analysis.samples import Events
from strokewise.analysis.verdict.find import find
from strokewise.gui.sayings import say

PER_TURN = 2400
ENCODER = Encoder(PER_TURN)


def events_of(counts, inputs=None):
    k = len(counts)
    return Events(
        (np.arange(k) * 250_000 + 1_000_000).astype(np.int64),
        np.array(counts, np.int64),
        np.zeros(k, np.int64) if inputs is None else np.array(inputs, np.int64),
    )


def turns(*extra, start=100):
    """Counts at the index for turns that are longer than whole by these."""
    return (start + np.cumsum([0, *(PER_TURN + e for e in extra)])).tolist()


def test_a_sound_encoder_has_no_faults():
    events = events_of(turns(0, 1, -1, 0, 2, -2))
    assert count_faults(events, ENCODER) == ()
    assert count_notices(events, ENCODER) == ()


def test_lost_counts_are_placed_between_two_meetings():
    faults = count_faults(events_of(turns(0, -7, 0, 0)), ENCODER)
    assert faults == (CountFault(1.25, 1.5, -7),)


def test_the_sign_is_that_of_the_turning():
    falling = [-c for c in turns(0, -7, 0)]
    assert [f.counts for f in count_faults(events_of(falling), ENCODER)] == [-7]
    assert [f.counts for f in count_faults(events_of(turns(0, 9, 0)), ENCODER)] == [9]


def test_a_missed_index_is_no_lost_count():
    counts = turns(0, 0, 0, 0)
    del counts[2]
    assert count_faults(events_of(counts), ENCODER) == ()


def test_turning_back_meets_the_other_edge():
    width = 4
    there_and_back = [100, 2500, 2500 + width, 100 + width, 100, 2500, 4900]
    assert count_faults(events_of(there_and_back), ENCODER) == ()


def test_a_loss_after_turning_back_is_found():
    counts = [100, 2500, 2504, 104, 100 - 9, 2500 - 9]
    assert [abs(f.counts) for f in count_faults(events_of(counts), ENCODER)] == [9]


def test_marks_are_not_the_index():
    counts, inputs = [100, 700, 2500, 3111, 4900], [0, 1, 0, 1, 0]
    assert count_faults(events_of(counts, inputs), ENCODER) == ()


def test_an_encoder_stated_wrong_is_not_a_loss():
    events = events_of([100 + 2000 * k for k in range(6)])
    assert stated_otherwise(events, ENCODER) == 2000
    assert count_faults(events, ENCODER) == ()
    (notice,) = count_notices(events, ENCODER)
    assert notice.code == "index-mismatch"
    assert "every 2000 counts" in say(notice.remark)


def test_rocking_about_the_index_says_nothing():
    events = events_of([-252, -255, -252, -255, -252, -255])
    assert stated_otherwise(events, ENCODER) is None
    assert count_notices(events, ENCODER) == ()


def test_lost_index_pulses_make_no_other_encoder():
    lost = [100, 2500, 7300, 12100, 16900, 21700]
    assert stated_otherwise(events_of(lost), ENCODER) is None
    assert stated_otherwise(events_of(lost[1:]), ENCODER) == 4800  # never once as stated


@pytest.mark.parametrize("counts", [[], [100], [100, 2500]])
def test_few_meetings(counts):
    assert count_faults(events_of(counts), ENCODER) == ()


def test_the_notice_gives_figures():
    (notice,) = count_notices(events_of(turns(0, -7, 0, 5, 0)), ENCODER)
    assert notice.code == "lost-counts"
    assert "12 counts (1.8° of the crank)" in say(notice.remark)
    assert "in 2 turns" in say(notice.remark)
    assert "1.8 to 2.0 s" in say(notice.remark)


def test_encoder_on_the_camshaft_speaks_of_crank_degrees():
    events = events_of(turns(0, -10, 0, 0))
    (notice,) = count_notices(events, Encoder(PER_TURN, drive_ratio=0.5))
    assert "(3.0° of the crank)" in say(notice.remark)


@given(st.lists(st.integers(-2, 2), min_size=1, max_size=30), st.data())
def test_one_loss_anywhere_is_the_only_fault(slack, data):
    at = data.draw(st.integers(0, len(slack) - 1))
    lost = data.draw(st.integers(5, 300)) * data.draw(st.sampled_from([1, -1]))
    extra = [lost if i == at else by for i, by in enumerate(slack)]
    (fault,) = count_faults(events_of(turns(*extra)), ENCODER)
    assert fault.counts == lost
    assert fault.after_s == pytest.approx(1.0 + 0.25 * at)


def test_angles_that_the_index_shows_to_be_wrong_are_refused(turned):
    """The profile states 2,160 counts a turn, the index comes round every 2,400."""
    made = turned("cranked")
    encoder = replace(made.profile.encoder, counts_per_rev=2160)
    verdict = find(made.recording, replace(made.profile, encoder=encoder))
    assert not verdict.decided
    assert verdict.tdc is None
    assert say(verdict.reason).startswith("profile contradicts the trace")
