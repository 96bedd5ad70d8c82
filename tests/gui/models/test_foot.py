"""What the foot of the window says of how the bytes come in."""

from dataclasses import replace

from strokewise.gui.models.foot import MOST_OF_NAME, link_words, short_name
from strokewise.gui.models.run.snapshot import Link


def test_what_is_recorded_stands_first_and_losses_last():
    link = Link("/dev/ttyACM0", "running", rate_hz=1999.6, lost_frames=2, recording="job.swr")
    assert link_words(link) == (
        "● RECORDING to job.swr · /dev/ttyACM0 · running · 2000/s · 2 lost, 0 damaged"
    )
    assert link_words(replace(link, trouble="the port went away")) == "the port went away"


def test_a_long_name_keeps_its_end():
    name = "recordings/of/a/very/long/way/cold-start-third-try.swr"
    short = short_name(name)
    assert len(short) == MOST_OF_NAME
    assert short.endswith("third-try.swr")
    assert short_name("short.swr") == "short.swr"
