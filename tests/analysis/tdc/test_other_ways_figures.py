"""What the other ways to TDC come to, and what the one who rocks or stops is told: as kept.

Rocking and the stop are what a mechanic falls back on, and turning back is the risky part of them:
which way to turn next, the cautions, and what counts as a contact are held word for word.

    PYTHONPATH=tests/suite python tests/suite/suite_kept.py tests/analysis/tdc
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from suite_kept import held, sweep, turns_at
from suite_turned import BARE, ENGINE, compressions, turned

from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import ValveTiming
from strokewise.analysis.samples import Press
from strokewise.analysis.tdc import baselines, volume_baselines
from strokewise.analysis.tdc.coarse import (
    UNKNOWN_REACH,
    Reach,
    best_passes,
    guesses_deg,
    reach_of,
    strong,
    usable_passes,
)
from strokewise.analysis.tdc.rocking import centre, met
from strokewise.analysis.tdc.rocking_guide import cautions_for, guide
from strokewise.analysis.tdc.rough import rough_tdc, rough_tdc_burning
from strokewise.analysis.tdc.stop import contacts_of, tdc_by_stop
from strokewise.analysis.trace.nodes import Nodes
from strokewise.analysis.trace.passes import Hump, Pass, humps_of, runs_of

FITTED = 1e-5


@cache
def made(*speeds: float, tdc: float = 1.3) -> tuple[Pass, ...]:
    return compressions(speeds, tdc)


STARTER = (230.0, 185.0, 205.0)
ROCKED = (24.0, -19.0, 22.0, -27.0, 25.0, -16.0, 21.0)


def cut(item: Pass, low: float, high: float) -> Pass:
    where = (item.angle_deg - item.tdc_deg > low) & (item.angle_deg - item.tdc_deg < high)
    return replace(item, nodes=item.nodes.only(where))


def clipped(item: Pass, high: float) -> Pass:
    bar = np.minimum(item.pressure_bar, high)
    return replace(item, nodes=replace(item.nodes, pressure_bar=bar, clipped=bar >= high))


def hump(angle: float, rise: float, way: int = 1, *, moving: bool = True, at: int = 0) -> Hump:
    return Hump(at, angle, 1.0 + rise, rise, way, moving)


def rocked(*speeds: float, reach: float = 200.0) -> Any:
    some = tuple(cut(p, -reach, reach) for p in made(*speeds))
    found = guide(some, ENGINE)
    return [
        found.instruction,
        found.enough,
        found.before_deg,
        found.after_deg,
        found.forward,
        found.backward,
        found.forward_rpm,
        found.backward_rpm,
        found.interval,
    ]


def path(*stations: tuple[float, float], speed: float = 30.0, cell: float = 0.15) -> Nodes:
    """Return the nodes of a crank taken from place to place: angle, seconds to rest there."""
    pieces = []
    for (start, rest_s), (end, _) in pairwise(stations):
        pieces.append(np.full(round(rest_s / 0.025), start))
        pieces.append(np.linspace(start, end, round(abs(end - start) / speed / 0.025) + 1))
    pieces.append(np.full(round(stations[-1][1] / 0.025), stations[-1][0]))
    angle = np.concatenate(pieces)
    time_s = 0.5 + 0.025 * np.arange(len(angle))
    one = np.ones_like(angle)
    return Nodes(time_s, angle, np.gradient(angle, time_s), one, one, one < 0, 0.01, cell, 0.005)


ROUND = ((100.0, 0.5), (141.0, 1.0), (-160.0, 1.2), (140.6, 0.9), (-159.5, 1.0), (-100.0, 0.3))


def stopped(nodes: Nodes, *keys_s: float, profile: Any = ENGINE) -> Any:
    presses = tuple(Press("stop", round(at * 1e6)) for at in keys_s)
    return [tdc_by_stop(nodes, (*presses, Press("notch", 3_000_000)), profile)]


CASES: dict[str, Callable[[], Any]] = {
    "the baselines": lambda: {
        name: [
            baselines.peak(some),
            baselines.fixed_loss(some),
            baselines.chords(some),
            volume_baselines.polytropic(some, profile),
            volume_baselines.heat_shape(some, profile),
        ]
        for name, some, profile in (
            ("starter", made(*STARTER), ENGINE),
            ("starter, bare", made(*STARTER), BARE),
            ("one pass", made(230.0), ENGINE),
            ("back", made(-230.0, -150.0), ENGINE),
            ("both ways", made(230.0, -185.0, 205.0), ENGINE),
            ("by hand", made(20.0, 16.0), ENGINE),
            ("none", (), ENGINE),
        )
    },
    "the baselines, each pass": lambda: [
        [
            baselines.peak_after_deg(baselines.swing_of(p)),
            baselines.chords_after_deg(baselines.swing_of(p)),
        ]
        for whole in made(230.0, -90.0)
        for p in (
            whole,
            cut(whole, -10.0, 105.0),
            cut(whole, -105.0, 9.0),
            cut(whole, -105.0, 20.0),
            cut(whole, -40.0, 50.0),
            cut(whole, -9.0, 9.0),
            cut(whole, -2.0, 105.0),
            clipped(whole, 8.0),
            clipped(whole, float(whole.pressure_bar.max()) + 1.0),
        )
    ],
    "a swing": lambda: [baselines.swing_of(clipped(p, 8.0)) for p in made(230.0, -90.0)],
    "met": lambda: [met(p) for p in made(*ROCKED)] + [met(cut(made(24.0)[0], -9, 9))],
    "met, standing": lambda: [
        met(replace(p, nodes=replace(p.nodes, speed_deg_s=0.0 * p.angle_deg + speed)))
        for p in made(24.0)
        for speed in (2.9, 3.1)
    ],
    "the middle": lambda: [
        centre(made(*some))
        for some in (ROCKED, ROCKED[:2], ROCKED[:3], (24.0,), (-24.0,), (9.0, -60.0, 8.0, -70.0))
    ],
    "the middle, over turns": lambda: [
        centre(made(*some)) for some in ((24.0, 22.0, -19.0), (24.0, -19.0, 22.0, -17.0))
    ],
    "rocking, told": lambda: {
        str(some): rocked(*some)
        for some in (
            (),
            (24.0,),
            (-24.0,),
            (24.0, -19.0),
            (24.0, -19.0, 22.0, -27.0),
            ROCKED[:6],
            (24.0, -19.0) * 8,
            (24.0, -14.0, 24.0, -14.0, 25.0, -14.0),
            (14.0, -24.0, 14.0, -24.0, 14.0, -25.0),
            (7.0, -9.0, 7.0, -9.0, 7.0, -9.0),
            (9.0, -7.0, 9.0, -7.0, 9.0, -7.0),
            (90.0, -70.0, 90.0, -70.0, 90.0, -70.0),
        )
    },
    "rocking, told to go farther": lambda: [
        rocked(*ROCKED[:4], reach=reach) for reach in (30.0, 54.0, 58.0, 90.0)
    ],
    "rocking, refused": lambda: guide(made(24.0), replace(ENGINE, turning_back="never")),
    "rocking, cautions": lambda: [
        cautions_for(replace(ENGINE, turning_back=back)) for back in ("allowed", "never", None)
    ],
    "reach": lambda: [
        reach_of(profile)
        for profile in (
            ENGINE,
            replace(BARE, cycle="two-stroke"),
            *(
                replace(ENGINE, valve_timing=ValveTiming(10.0, ic, eo, 12.0, lift))
                for ic, eo, lift in (
                    (75.0, 88.0, 0.0),
                    (75.0, 88.0, 1.0),
                    (20.0, 30.0, 0.0),
                    (140.0, 70.0, 0.0),
                )
            ),
        )
    ],
    "strong humps": lambda: [
        strong(()),
        strong(tuple(hump(10.0 * n, rise) for n, rise in enumerate((10.0, 1.9, 2.1, 0.3)))),
    ],
    "guesses": lambda: [
        guesses_deg(tuple(some), slow)
        for some in (
            (hump(70.0, 9.0), hump(431.0, 9.0), hump(793.5, 8.0)),
            (hump(70.0, 9.0, -1), hump(-291.0, 9.0, -1)),
            (hump(350.0, 3.0), hump(24.0, 3.0, -1)),
            (hump(24.0, 3.0), hump(350.0, 3.0, -1)),
            (hump(70.0, 9.0, moving=False),),
            (hump(70.0, 9.0, moving=False), hump(75.0, 9.0)),
        )
        for slow in (False, True)
    ],
    "usable passes": lambda: [
        [[p.tdc_deg, len(p.nodes)] for p in usable_passes(nodes, runs_of(nodes), humps, tdc, reach)]
        for nodes in (turned(3),)
        for humps in (humps_of(nodes),)
        for tdc, reach in ((40.0, UNKNOWN_REACH), (60.0, Reach(40.0, 90.0)), (220.0, UNKNOWN_REACH))
    ],
    "best passes": lambda: [
        [p.speed_rpm for p in best_passes(made(*some), most)]
        for some in (ROCKED, STARTER, (24.0, 20.0, 21.0, 22.0, -20.0))
        for most in (2, 3, 4, 6)
    ],
    "rough": lambda: {
        f"{rpm:g}, {slip:g}": rough_tdc(nodes, humps_of(nodes))
        for rpm, slip in ((230.0, 0.0), (60.0, 0.0), (20.0, 0.0), (230.0, 8.0))
        for nodes in (turned(4, rpm, slip=slip, at=2),)
    },
    "rough, cut off": lambda: [
        rough_tdc(nodes, humps_of(nodes))
        for rpm in (230.0, 20.0)
        for high in (1.6, 3.5, 9.0)
        for whole in (turned(3, rpm),)
        for bar in (np.minimum(whole.pressure_bar, high),)
        for nodes in (replace(whole, pressure_bar=bar, clipped=bar >= high),)
    ],
    "rough, met from both sides": lambda: rough_tdc(
        turned(1, 20.0), (hump(350.0, 3.0), hump(24.0, 3.0, -1), hump(344.0, 3.0))
    ),
    "rough, burning": lambda: [
        rough_tdc_burning(tuple(some))
        for some in (
            (hump(70.0, 9.0), hump(431.0, 9.0)),
            (hump(70.0, 9.0, -1), hump(-291.0, 9.0, -1)),
            (hump(70.0, 9.0, -1), hump(431.0, 9.0)),
        )
    ],
    "contacts": lambda: [
        contacts_of(nodes)
        for nodes in (
            path(*ROUND),
            path(*ROUND, cell=0.6),
            path(*ROUND, speed=70.0),
            path((0.0, 1.0), (50.0, 0.45), (20.0, 0.35), (60.0, 2.0)),
            path((0.0, 1.0), (50.0, 0.5), (90.0, 0.5), (120.0, 0.1)),
        )
    ],
    "a stop": lambda: {
        name: stopped(nodes, *keys, profile=profile)
        for name, nodes, keys, profile in (
            ("not confirmed", path(*ROUND), (), ENGINE),
            ("confirmed", path(*ROUND), (2.9, 14.1, 24.9, 36.0), ENGINE),
            ("two confirmed", path(*ROUND), (2.9, 14.1), ENGINE),
            ("one confirmed", path(*ROUND), (2.9,), ENGINE),
            ("bare", path(*ROUND), (), BARE),
            ("no offset", path(*ROUND), (), replace(ENGINE, pin_offset_mm=0.0)),
            ("coarse", path(*ROUND, cell=1.0), (), ENGINE),
            ("hard", path(*ROUND, speed=60.0), (), ENGINE),
            (
                "short",
                path((100.0, 0.5), (141.0, 1.0), (-160.0, 1.2), (130.0, 0.9), (0.0, 0.2)),
                (),
                ENGINE,
            ),
            ("too near", path((0.0, 0.5), (60.0, 1.0), (-60.0, 1.2), (0.0, 0.1)), (), ENGINE),
            ("one side", path((0.0, 0.5), (60.0, 1.0), (0.0, 0.1)), (), ENGINE),
            (
                "one side, never back",
                path((0.0, 0.5), (60.0, 1.0), (0.0, 0.1)),
                (),
                replace(ENGINE, turning_back="never"),
            ),
            (
                "the other side",
                path((0.0, 0.5), (-60.0, 1.0), (0.0, 0.1)),
                (),
                replace(ENGINE, turning_back="never"),
            ),
            ("none", path((0.0, 0.5), (60.0, 0.1)), (), ENGINE),
        )
    },
}


@pytest.mark.parametrize("name", CASES)
def test_the_other_ways_come_to_what_was_kept(name: str) -> None:
    held(__file__, name, CASES, relative=FITTED)


def test_a_key_speaks_of_the_rest_about_it() -> None:
    """Pressed a little before the crank rests, or up to a second after it left, and no more."""
    nodes = path((0.0, 0.5), (60.0, 2.0), (0.0, 0.1))
    (contact,) = contacts_of(nodes)

    def confirmed(at_s: float) -> bool:
        (found,) = contacts_of(nodes, (Press("stop", round(at_s * 1e6)),))
        return found.confirmed

    first = turns_at(confirmed, contact.time_s - 2.0, contact.time_s + 0.5)
    assert first == pytest.approx(contact.time_s - 0.3, abs=1e-3)
    last = turns_at(confirmed, contact.time_s + 0.5, contact.time_s + 6.0)
    assert last == pytest.approx(contact.time_s + 2.0 + 1.0, abs=0.1)


def test_a_rest_lasts_four_tenths_of_a_second() -> None:
    """A shorter one is where a hand only turned back."""
    rests = sweep(
        lambda n: len(contacts_of(path((0.0, 0.5), (60.0, 0.025 * n), (0.0, 0.1)))), range(4, 40)
    )
    assert [count for _, count in rests] == [0, 1]
    assert 0.35 <= 0.025 * rests[1][0] <= 0.45


@pytest.mark.parametrize(
    ("apart", "found"), [(179.0, False), (181.0, True), (357.0, True), (358.5, False)]
)
def test_how_far_apart_the_two_sides_of_a_stop_lie(apart: float, found: bool) -> None:
    nodes = path((0.0, 0.5), (apart / 2, 1.0), (-apart / 2, 1.0), (0.0, 0.1), cell=0.01)
    assert (tdc_by_stop(nodes, (), ENGINE).tdc_deg is not None) is found


def test_a_compression_that_is_strong() -> None:
    least = turns_at(lambda rise: len(strong((hump(0.0, 10.0), hump(9.0, rise)))), 0.1, 9.0)
    assert least == pytest.approx(2.0)
    assert isinstance(rough_tdc_burning((hump(70.0, 9.0),)), Interval)
