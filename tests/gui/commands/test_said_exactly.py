"""Every word, sign and figure about engines without a recording, as kept in ``said/``.

A caution that is gone, early for late, inlet for exhaust, a sign: whoever changes what is said
changes a kept answer, and sees in the difference what a mechanic will read.

    PYTHONPATH=tests/suite python tests/gui/commands/test_said_exactly.py

writes them all anew.
"""

from __future__ import annotations

import pytest
from suite_said import SAID, hold, keep

SLOT = (
    "--set 'drive_gear.slot_angle=90 deg' --set 'drive_gear.slot_depth=4 mm'"
    " --set drive_gear.slot=turns"
)
ASKED = {
    "valves-four": "valves --engine four.toml",
    "valves-four-gaps": "valves --engine four.toml --after-tdc 95 --done 1E,2I"
    " --gap '1E=0.40 mm, 0.36 mm, 0.35 mm' --gap '3I=0.22 mm' --fitted '3I=2.45 mm'"
    " --gap '4E=0.31 mm, 0.29 mm' --engine-is hot",
    "valves-four-inch": "valves --engine four.toml --after-tdc -40 --blades inch"
    " --gap '2I=0.009 in' --fitted '2I=2.45 mm' --shims '2.30 mm, 2.40 mm'",
    "valves-twin": "valves --engine twin.toml --after-tdc 30",
    "valves-twin-gaps": "valves --engine twin.toml --after-tdc 410 --engine-is cold --done 2E,1I"
    " --gap '2E=0.011 in' --gap '1I=0.020 in, 0.009 in, 0.008 in' --blades metric",
    "valves-twin-not-free": "valves --engine twin.toml --after-tdc 410 --engine-is cold"
    " --gap '2E=0.011 in' --gap '2I=0.020 in, 0.009 in, 0.008 in' --fitted '2E=2.45 mm'",
    "valves-done": "valves --engine twin.toml --done 1E,1I,2I,2E",
    "valves-bare": "valves --engine bare.toml --after-tdc 100",
    "drive-four": "drive --engine four.toml",
    "drive-four-lead": "drive --engine four.toml --lead-1 300 --after-tdc -6",
    "drive-four-half-turn": "drive --engine four.toml --found 181",
    "drive-four-tooth-early": "drive --engine four.toml --found 36",
    "drive-four-teeth-late": "drive --engine four.toml --found 288",
    "drive-four-right": "drive --engine four.toml --found 0.4",
    "drive-four-slot": f"drive --engine four.toml {SLOT} --slot 40",
    "drive-four-slot-fixed": f"drive --engine four.toml {SLOT} --slot 40"
    " --set drive_gear.slot=fixed",
    "drive-twin": "drive --engine twin.toml --after-tdc 12 --lead-1 40",
    "drive-twin-late": "drive --engine twin.toml --found 28",
    "drive-twin-half-turn": "drive --engine twin.toml --found 207",
    "drive-bare": "drive --engine bare.toml",
    "drive-bare-away": "drive --engine bare.toml --after-tdc 30",
    "static-four": "static --engine four.toml",
    "static-four-3": "static --engine four.toml --cylinder 3",
    "static-rim": "static --engine four.toml --rim '8.4 mm'",
    "static-teeth": "static --engine four.toml --teeth 3 --cylinder 2",
    "static-travel": "static --engine four.toml --travel '1.2 mm'",
    "static-chord": "static --engine twin.toml --chord '7 mm' --cylinder 2",
    "static-twin": "static --engine twin.toml",
    "static-bare": "static --engine bare.toml --advance '10 deg BTDC'",
    "static-strobe-mark": "static --engine four.toml --curve 800=0,3000=20 --strobe 700=13"
    " --strobe 3200=33 --mark-late 7,6.7,7.3",
    "static-strobe-open": "static --engine four.toml --curve 800=0,3000=20 --strobe 700=13"
    " --strobe 3200=33",
    "static-strobe-stuck": "static --engine four.toml --curve 800=0,3000=20 --strobe 700=7"
    " --strobe 3200=10",
    "static-strobe-alone": "static --engine four.toml --curve 800=0,3000=20 --strobe 3200=33",
}
"""What is asked, by the name of the answer kept."""


@pytest.mark.parametrize("name", ASKED)
def test_words_and_answer_are_those_kept(name: str) -> None:
    hold(name, ASKED[name])


def test_every_kept_answer_is_asked_for() -> None:
    asked = "".join(file.read_text(encoding="utf-8") for file in SAID.parent.glob("test_*.py"))
    kept = {file.stem for kind in ("txt", "json") for file in SAID.glob(f"*.{kind}")}
    assert all(f'"{name}":' in asked for name in kept)


if __name__ == "__main__":
    keep(ASKED)
