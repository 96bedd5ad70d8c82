"""What each explanation weighs after some visits, and where the answer turns: kept to six digits.

A sure wrong cylinder is the worst defect there is. The posterior is a product of small figures; one
of them a little off still decides every plain case, and shows only here. Visits are made up, no
two turns alike, and swept through every figure that is asked about.

    PYTHONPATH=tests/suite python tests/suite/suite_kept.py tests/analysis/stroke
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from suite_kept import held, sweep, turns_at

from strokewise.analysis.stroke.passages import Visit
from strokewise.analysis.stroke.phase import NOTHING_KNOWN, Phase, clearly_squeezed, weigh
from strokewise.analysis.stroke.plateaus import plateau_evidence


def visit(turn: int, rise_bar: float, **change: Any) -> Visit:
    made = Visit(
        turn=turn,
        time_s=0.3 * turn + 0.01,
        rise_bar=rise_bar,
        noise_bar=0.006,
        fell=True,
        clipped=False,
        level_bar=1.0 + 0.4 * rise_bar,
        top_share=0.0,
        lingered=False,
        speed_rpm=180.0 + 7 * turn,
        forward=True,
        step_bar=0.004,
        top_bar=1.0 + rise_bar,
    )
    return replace(made, **change)


def series(*rises: float, **change: Any) -> tuple[Visit, ...]:
    return tuple(visit(turn, rise, **change) for turn, rise in enumerate(rises))


def logs(phase: Phase) -> list[Any]:
    """Return the posterior in powers of ten, where a factor in the least of them shows."""
    shares = (phase.even, phase.odd, phase.every, phase.none)
    said = [math.log10(max(share, 1e-250)) for share in shares]
    return [*said, phase.changed, phase.weighed, phase.best]


def weighed(*visits: Visit, noise_bar: float = 0.004, **more: Any) -> list[Any]:
    return logs(weigh(tuple(visits), noise_bar=noise_bar, **more))


RISES = [float(r) for r in np.geomspace(0.004, 45.0, 140)]
AT_END = {"top_share": 0.62, "clipped": True}


def plateau(**change: Any) -> list[float]:
    """Return what a sensor at its end through the odd turns is worth."""
    odd = {"top_share": 0.7, "level_bar": 2.0, "top_bar": 2.1, **change}
    kinds = [
        tuple(visit(t, 0.1, level_bar=1.0, top_bar=1.03, top_share=0.0) for t in (0, 2, 4)),
        tuple(replace(visit(t, 0.1), **odd) for t in (1, 3)),
    ]
    return [float(each) for each in plateau_evidence(kinds)]


def plateaus(often: int) -> list[float]:
    """Return what it is worth so often: at the end through every odd turn, by starter."""
    kinds = [
        tuple(visit(2 * t, 0.1, level_bar=1.0, top_bar=1.03, top_share=0.0) for t in range(often)),
        tuple(
            visit(2 * t + 1, 0.1, top_share=0.7, level_bar=2.0, top_bar=2.1) for t in range(often)
        ),
    ]
    return [float(each) for each in plateau_evidence(kinds)]


def by_hand(often: int = 5, above: float = 1.2, **change: Any) -> list[float]:
    """Return what it is worth that of five even turns some reach the sensor's end, by hand."""
    even = {"speed_rpm": 30.0, "level_bar": 1.2, "step_bar": 0.003, "top_share": 0.05, **change}
    kinds = [
        tuple(
            replace(
                visit(2 * n, 0.1, top_bar=above), **even | ({} if n < often else {"top_share": 0.0})
            )
            for n in range(5)
        ),
        tuple(visit(t, 0.1, top_bar=1.0, level_bar=1.1, speed_rpm=25.0) for t in (1, 3)),
    ]
    return [float(each) for each in plateau_evidence(kinds)]


CASES = {
    "a plateau, so often": lambda: [plateaus(often) for often in (1, 2, 3, 4)],
    "a cycle and a half by starter": lambda: weighed(*series(7.0, 0.11, 6.1)),
    "the other way round": lambda: weighed(*series(0.08, 5.0, 0.13, 5.5)),
    "one turn alone": lambda: weighed(visit(1, 4.4)),
    "one quiet turn alone": lambda: weighed(visit(0, 0.03)),
    "rocked about one TDC": lambda: weighed(
        visit(2, 3.3, speed_rpm=20.0), visit(2, 2.9, forward=False, speed_rpm=17.0, time_s=2.2)
    ),
    "rocked, and unlike each way": lambda: weighed(
        visit(2, 3.3, speed_rpm=20.0), visit(2, 0.9, forward=False, speed_rpm=17.0, time_s=2.2)
    ),
    "rocked, one way cut off": lambda: weighed(
        visit(2, 3.3, clipped=True), visit(2, 2.0, forward=False, time_s=2.2)
    ),
    "a two-stroke": lambda: weighed(*series(4.0, 3.7, 4.2), cycle="two-stroke"),
    "a two-stroke that compresses every other turn": lambda: weighed(
        *series(4.0, 0.02, 4.2), cycle="two-stroke"
    ),
    "compression at every turn": lambda: weighed(*series(4.0, 3.0, 4.2, 3.1)),
    "nothing at any turn": lambda: weighed(*series(0.02, 0.05, 0.03, 0.04)),
    "tops cut off": lambda: weighed(
        *series(4.0, 0.1, 3.5), visit(3, 0.12), visit(4, 3.6, clipped=True)
    ),
    "all cut off": lambda: weighed(*(replace(v, clipped=True) for v in series(4.0, 0.1, 3.5))),
    "noise of the passage": lambda: weighed(*series(2.0, 0.2, 1.8, 0.3, noise_bar=0.11)),
    "noise of one kind only": lambda: weighed(
        visit(0, 2.0, noise_bar=0.3), visit(1, 0.1, noise_bar=0.02), visit(2, 2.2, noise_bar=0.3)
    ),
    "many looks": lambda: weighed(*series(*(3.0, 0.25) * 5), noise_bar=0.08),
    "gain unknown": lambda: weighed(*series(0.9, 0.02, 0.8, 0.03), calibrated=False),
    "gain unknown, one kind seen": lambda: weighed(visit(0, 5.0), visit(2, 5.1), calibrated=False),
    "gain unknown, hardly a rise": lambda: [
        weighed(*series(rise, 0.004), calibrated=False) for rise in (0.29, 0.31)
    ],
    "contradicted once": lambda: weighed(*series(4.0, 0.02, 0.03, 4.1, 0.02, 4.2)),
    "contradicted, and met from both sides": lambda: weighed(
        *series(4.0, 0.02, 0.03, 4.1), visit(3, 3.8, forward=False), visit(4, 0.02), visit(5, 4.0)
    ),
    "rocked with a slow swing between": lambda: weighed(
        visit(0, 3.0), visit(0, 0.01, forward=False, time_s=1.0), visit(0, 2.9, time_s=2.0)
    ),
    "rocked with two slow swings between": lambda: weighed(
        visit(0, 3.0),
        visit(0, 0.01, forward=False, time_s=1.0),
        visit(0, 0.012, time_s=2.0),
        visit(0, 2.9, time_s=3.0),
    ),
    "after a change, by what the second rises": lambda: sweep(
        lambda rise: weighed(visit(0, 4.0), visit(1, 0.02), visit(2, rise), changed=True)[0] > -0.1,
        RISES,
    ),
    "after a change of a two-stroke": lambda: weighed(
        *series(4.0, 3.7), cycle="two-stroke", changed=True
    ),
    "after a change, at the sensor's end twice": lambda: weighed(
        *(visit(t, 0.05, level_bar=2.0, **AT_END) if t % 2 else visit(t, 0.03) for t in range(5)),
        changed=True,
    ),
    "at the sensor's end once": lambda: weighed(
        visit(0, 0.03), visit(1, 0.05, level_bar=2.0, **AT_END), visit(2, 0.04)
    ),
    "after a change, at the sensor's end once": lambda: weighed(
        visit(0, 0.03), visit(1, 0.05, level_bar=2.0, **AT_END), visit(2, 0.04), changed=True
    ),
    "still rising": lambda: weighed(visit(0, 0.02), visit(1, 9.0, fell=False)),
    "still rising, cut off": lambda: weighed(
        visit(0, 0.02), visit(1, 9.0, fell=False, clipped=True)
    ),
    "still rising at the lower": lambda: weighed(visit(0, 0.02, fell=False), visit(1, 9.0)),
    "nobody turned it": lambda: [weighed(), logs(NOTHING_KNOWN), NOTHING_KNOWN.probability],
    "one visit, by its rise": lambda: sweep(lambda r: clearly_squeezed(visit(0, r)), RISES),
    "one visit, by its rise, in noise": lambda: sweep(
        lambda r: clearly_squeezed(visit(0, r, noise_bar=0.05), 1.0, 0.01), RISES
    ),
    "one visit, by its rise, quick": lambda: sweep(
        lambda r: clearly_squeezed(visit(0, r, speed_rpm=1100.0)), RISES
    ),
    "one visit, by its rise, at half the gain": lambda: sweep(
        lambda r: clearly_squeezed(visit(0, r), 0.5, 0.02), RISES
    ),
    "one visit, by its rise, that lingered": lambda: sweep(
        lambda r: clearly_squeezed(visit(0, r, lingered=True)), RISES
    ),
    "one visit, by its rise, cut off": lambda: sweep(
        lambda r: clearly_squeezed(visit(0, r, clipped=True)), RISES
    ),
    "the posterior, by speed": lambda: [
        weighed(*series(1.1, 0.2, 1.0, speed_rpm=rpm)) for rpm in (15.0, 240.0, 900.0)
    ],
    "the sensor's end, met but once a kind": lambda: [
        plateau(),
        [float(e) for e in plateau_evidence([(visit(0, 0.1),), ()])],
        [float(e) for e in plateau_evidence([(), (visit(1, 0.1, **AT_END),)])],
    ],
    "the sensor's end by hand": lambda: [by_hand(n) for n in range(6)],
    "the sensor's end by hand, once a kind": lambda: [
        float(each)
        for each in plateau_evidence(
            [
                (visit(0, 0.1, top_share=0.05, speed_rpm=30.0, top_bar=1.5),) * 2,
                (visit(1, 0.1, speed_rpm=30.0, top_bar=1.0),),
            ]
        )
    ],
}


@pytest.mark.parametrize("name", CASES)
def test_the_posterior_is_the_one_kept(name: str) -> None:
    held(__file__, name, CASES)


def test_the_share_at_the_sensors_end_from_which_it_tells() -> None:
    """Half of the way near TDC for the one kind, under a fifth for the other: no more, no less."""
    assert turns_at(lambda s: plateau(top_share=s)[1] > 0, 0.1, 0.9) == pytest.approx(0.5)

    def beside(share: float) -> bool:
        kinds = [
            tuple(visit(t, 0.1, level_bar=1.0, top_share=share) for t in (0, 2)),
            tuple(visit(t, 0.1, level_bar=2.0, top_share=0.7) for t in (1, 3)),
        ]
        return bool(plateau_evidence(kinds).any())

    assert turns_at(beside, 0.0, 0.45) == pytest.approx(0.2)


def test_a_plateau_stands_over_the_other_tdc_by_the_least_and_by_five_steps() -> None:
    """Exhaust comes close; and a coarse converter's own steps are flat."""
    at = turns_at(lambda bar: plateau(level_bar=bar)[1] > 0, 1.0, 1.5)
    assert at == pytest.approx(1.04)
    coarse = turns_at(lambda bar: plateau(level_bar=bar, step_bar=0.03)[1] > 0, 1.0, 1.5)
    assert coarse == pytest.approx(1.15)


def test_by_hand_the_end_must_stand_clear_of_the_other_tdc() -> None:
    """Breathing without resistance the other TDC stays under it by 0.02 bar, or by five steps."""
    assert turns_at(lambda bar: by_hand(above=bar)[0] > 0, 1.0, 1.2) == pytest.approx(1.02)
    coarse = turns_at(lambda bar: by_hand(above=bar, step_bar=0.01)[0] > 0, 1.0, 1.2)
    assert coarse == pytest.approx(1.05)


def test_no_hand_turns_faster_than_a_hundred() -> None:
    assert turns_at(lambda rpm: by_hand(speed_rpm=rpm)[0] > 0, 30.0, 300.0) == pytest.approx(100.0)


def test_the_end_is_reached_for_more_than_a_hundredth_of_the_way() -> None:
    at = turns_at(lambda share: by_hand(top_share=share)[0] > 0, 0.0, 0.04)
    assert at == pytest.approx(0.01)


@pytest.mark.parametrize(("share", "told"), [(0.79, True), (0.81, None)])
def test_a_top_hidden_by_the_end_of_the_range_clearly_says_nothing(share, told) -> None:
    assert clearly_squeezed(visit(0, 6.0, top_share=share)) is told


def test_the_weakest_rise_that_is_relied_on() -> None:
    """With a valve that hardly shuts not even TDC is roughly known, however still the other."""
    at = turns_at(lambda r: weighed(*series(r, 0.001, r, 0.002))[0] > -0.2, 0.1, 2.0)
    assert at == pytest.approx(0.35, rel=1e-3)
