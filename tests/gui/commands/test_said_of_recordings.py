"""Every word, sign and figure about the shipped recordings, as kept in ``said/``.

    PYTHONPATH=tests/suite python tests/gui/commands/test_said_of_recordings.py

writes them all anew.
"""

from __future__ import annotations

import pytest
from suite_said import found_once, hold, keep

ASKED = {
    "find-cranked": "find recordings/cranked.swr",
    "find-hand-turned": "find recordings/hand-turned.swr",
    "find-zero-off": "find recordings/cranked.swr"
    """ --set 'sensor.points=[[409.1, "1 bar"], [3685.9, "21 bar"]]'""",
    "find-zero-low": "find recordings/cranked.swr"
    """ --set 'sensor.points=[[409.1, "-0.9 bar"], [3685.9, "19.1 bar"]]'""",
    "find-rocked": "find recordings/rocked.swr",
    "find-clamp-slipped": "find recordings/clamp-slipped.swr",
    "find-manifold": "find recordings/manifold.swr",
    "find-stop": "find recordings/stop-both-sides.swr --method stop",
    "find-stop-as-fit": "find recordings/stop-both-sides.swr",
    "find-peak": "find recordings/cranked.swr --method peak",
    "find-fixed-loss": "find recordings/cranked.swr --method fixed-loss",
    "find-chords": "find recordings/cranked.swr --method chords",
    "find-polytropic": "find recordings/cranked.swr --method polytropic",
    "find-heat-shape": "find recordings/cranked.swr --method heat-shape",
    "find-rocking": "find recordings/rocked.swr --method rocking",
    "check-cranked": "check recordings/cranked.swr",
    "cam-cranked": "cam recordings/cranked.swr",
    "cam-clearances-set": "cam recordings/cranked.swr --clearances-set",
    "cam-separate": "cam recordings/marks-that-lie.swr --separate-cams",
    "cam-marks-that-lie": "cam recordings/marks-that-lie.swr --clearances-set",
    "cam-other-cam": "cam recordings/cranked.swr --clearances-set --keyway 2"
    " --set 'valve_timing.intake_closes_abdc=30 deg' --set 'valve_timing.exhaust_opens_bbdc=69 deg'"
    ' --set \'cam_drive.keyway_offsets=["0 deg", "4 deg", "-5 deg"]\'',
    "cam-early": "cam recordings/cranked.swr --clearances-set"
    " --set 'valve_timing.intake_closes_abdc=69 deg' --set 'valve_timing.exhaust_opens_bbdc=27 deg'"
    " --set turning_back=never",
    "cam-hand-turned": "cam recordings/hand-turned.swr",
    "marks-cranked": "marks recordings/cranked.swr",
    "marks-that-lie": "marks recordings/marks-that-lie.swr",
    "marks-moved": "marks recordings/marks-that-lie.swr --cam-shift 17,15,19"
    " --earlier 'pulley notch=2.4,2.1,2.7' --set turning_back=never",
    "marks-read-off": "marks recordings/cranked.swr --stated 'cam dot=74.2'"
    " --stated 'pulley notch=95.5'",
    "marks-hand-turned": "marks recordings/hand-turned.swr",
    "valves-recording": "valves recordings/cranked.swr",
    "valves-undecided": "valves recordings/manifold.swr",
    "drive-recording": "drive recordings/cranked.swr --engine four.toml",
    "static-recording": "static recordings/cranked.swr --engine four.toml",
    "static-recording-2": "static recordings/cranked.swr --engine four.toml --cylinder 2"
    " --set turning_back=allowed",
    "compare-three": "compare recordings/cranked.swr recordings/marks-that-lie.swr"
    " recordings/clamp-slipped.swr --cylinders 1,3,2 --throttle-open no --plugs-out yes",
}
"""What is asked, by the name of the answer kept."""


@pytest.fixture(autouse=True)
def once(monkeypatch: pytest.MonkeyPatch) -> None:
    found_once(monkeypatch)


@pytest.mark.parametrize("name", ASKED)
def test_words_and_answer_are_those_kept(name: str) -> None:
    hold(name, ASKED[name])


if __name__ == "__main__":
    keep(ASKED)
