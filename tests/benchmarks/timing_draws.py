"""Engines whose cam, marks or rig lie, drawn at random, with what is true of each part.

Engines of random_benches. The cam stands up to two teeth out and up to 2° off a tooth; lift curve
and heads are the bench's own, clearances are set to the profile's figures, and the sensor resolves
0.02 bar. Of seven faults none, one, or two or three at once are drawn; beside them three engines in
ten are turned by hand. Everything here is invented; ranges and shares are our judgement, no source.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from random_benches import draw

from strokewise.analysis.crank.strokes import firing_offsets, nearest
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import CamDrive, Mark, Profile, Valves
from strokewise.daq.bench.bench import Bench
from strokewise.daq.bench.engine.settings import Spanner
from strokewise.daq.bench.rig.rig import MarkPickup, Slip
from strokewise.daq.bench.rig.sensor_model import calibration_points

DIESEL_RATIO = 12.0  # from here random_benches fits a sensor of 60 bar, which needs 12 bit
NOISE_MOST_BAR = 0.02
HAND_SHARE = 0.3
HOW_MANY = ((0, 0.2), (1, 0.55), (2, 0.2), (3, 0.05))
"""How many faults at once, and how often."""

FAULTS_DRAWN = ("teeth", "half turn", "foreign dot", "ring", "pointer", "slip", "cylinder")
"""What may be wrong, each as likely as any other. The first three are of the cam's train; a ring
that slipped and a pointer of another engine are told apart by an earlier look."""

NOTCH, DOT = "pulley notch", "cam dot"


@dataclass(frozen=True)
class Case:
    """One engine, what the tool is told, and what is true.

    Attributes
    ----------
    faults : frozenset of str
        Of ``FAULTS_DRAWN``; also ``"order"`` and ``"backwards"``, which put no mark elsewhere.
    teeth, shift_deg : int, float
        Of the cam, crank degrees, late positive; half a turn not counted.
    notch_deg, dot_deg : float
        How far past firing TDC of cylinder 1 the marks meet their pointers.
    seen_from_deg : float
        By how much the stated cylinder makes every mark look later than it is.
    """

    seed: int
    bench: Bench
    profile: Profile
    by_hand: bool
    faults: frozenset[str]
    teeth: int
    shift_deg: float
    notch_deg: float
    dot_deg: float
    seen_from_deg: float = 0.0
    earlier: dict[str, Interval] = field(default_factory=dict)


def case_of(seed: int) -> Case:
    """Draw one engine with its cam, its marks and its rig."""
    rng = np.random.default_rng([seed, 0x766F69])
    by_hand = bool(rng.random() < HAND_SHARE)
    drawn = draw(seed, "spanner" if by_hand else "starter", lag_known=True)
    engine, rig, turning = drawn.bench.engine, drawn.bench.rig, drawn.bench.turning
    faults = _faults(rng, engine.cylinders)
    if by_hand and rng.random() < 0.15:
        faults |= {"backwards"}
    if engine.cylinders > 3 and rng.random() < 0.1:
        faults |= {"order"}
    drive = CamDrive(21, 2 * int(rng.integers(17, 25)))
    teeth = int(rng.choice((-2, -1, 1, 2))) if "teeth" in faults else 0
    shift = teeth * 720.0 / drive.cam_teeth + float(rng.uniform(-2.0, 2.0))
    notch = float(rng.normal(0.0, 0.3))
    if faults & {"ring", "pointer"}:
        notch += float(rng.choice((-1.0, 1.0)) * rng.uniform(8.0, 40.0))
    dot = shift + float(rng.normal(0.0, 0.5))
    if "half turn" in faults:
        dot += 360.0
    if "foreign dot" in faults:
        dot += _foreign(rng, 720.0 / drive.cam_teeth)
    bits = 12 if engine.compression_ratio > DIESEL_RATIO else rig.board.adc_bits
    sensor = replace(rig.sensors[0], noise_bar=min(rig.sensors[0].noise_bar, NOISE_MOST_BAR))
    told, stated_order = 1, engine.firing_order
    if "cylinder" in faults:
        sensor = replace(sensor, cylinder=int(rng.integers(2, engine.cylinders + 1)))
    if "order" in faults:
        stated_order = _other_order(rng, engine.firing_order)
    if "backwards" in faults:
        faults.discard("slip")  # drawn for the way turned
    if "slip" in faults:
        seconds = 60.0 if by_hand else 4.0
        slip = float(rng.choice((-1.0, 1.0)) * rng.uniform(3.5, 15.0))
        rig = replace(
            rig,
            encoder=replace(
                rig.encoder,
                slips=(
                    Slip(slip, after_turning_deg=float(rng.uniform(700.0, 1000.0)))
                    if by_hand
                    else Slip(slip, at_time_s=float(rng.uniform(0.3, 0.55)) * seconds),
                ),
            ),
        )
    if isinstance(turning, Spanner) and "backwards" in faults:
        turning = replace(turning, total_deg=-turning.total_deg)
    marks = (
        MarkPickup(1, NOTCH, "pulley", notch, width_deg=float(rng.uniform(1.5, 6.0))),
        MarkPickup(2, DOT, "cam sprocket", dot, width_deg=float(rng.uniform(3.0, 12.0))),
    )
    rig = replace(rig, sensors=(sensor,), marks=marks, board=replace(rig.board, adc_bits=bits))
    engine = replace(engine, intake_shift_deg=shift, exhaust_shift_deg=shift)
    profile = replace(
        drawn.profile,
        firing_order=stated_order,
        valve_timing=engine.valve_timing,
        valves=Valves(
            clearance_inlet_mm=engine.intake.clearance_mm,
            clearance_exhaust_mm=engine.exhaust.clearance_mm,
        ),
        cam_drive=drive,
        sensors=(
            replace(
                drawn.profile.sensors[0],
                cylinder=told,
                points=calibration_points(sensor, bits),
            ),
        ),
        marks=(Mark(NOTCH, 1, "pulley", 0.0), Mark(DOT, 2, "cam sprocket", 0.0, "firing")),
    )
    offsets = firing_offsets(engine.firing_order, engine.intervals_deg)
    seen_from = nearest(offsets[told] - offsets[sensor.cylinder], 720.0)
    before = 0.0 if "ring" in faults else notch
    earlier = (
        {NOTCH: Interval.from_sigma(before + float(rng.normal(0.0, 0.2)), 0.3)}
        if faults & {"ring", "pointer"}
        else {}
    )
    bench = replace(drawn.bench, engine=engine, rig=rig, turning=turning)
    return Case(
        seed, bench, profile, by_hand, frozenset(faults), teeth, shift, notch, dot, seen_from,
        earlier,
    )  # fmt: skip


def _faults(rng: np.random.Generator, cylinders: int) -> set[str]:
    numbers, shares = zip(*HOW_MANY, strict=True)
    wanted = int(rng.choice(numbers, p=shares))
    drawn = [str(name) for name in rng.permutation(FAULTS_DRAWN)]
    if cylinders == 1:
        drawn.remove("cylinder")
    kept: set[str] = set()
    for name in drawn:  # a dot is either another engine's or half a turn out, a pulley either way
        apart = {"half turn", "foreign dot"}, {"ring", "pointer"}
        if len(kept) < wanted and not any(name in pair and kept & pair for pair in apart):
            kept.add(name)
    return kept


def _foreign(rng: np.random.Generator, tooth_deg: float) -> float:
    """A dot of another engine: as often as not it apes a tooth, or half of one."""
    if rng.random() < 0.5:
        return float(rng.choice((-2, -1, 1, 2))) * tooth_deg / float(rng.choice((1.0, 1.0, 2.0)))
    return float(rng.choice((-1.0, 1.0)) * rng.uniform(8.0, 120.0))


def _other_order(rng: np.random.Generator, order: tuple[int, ...]) -> tuple[int, ...]:
    """Another order that begins with 1, as somebody misread it."""
    while True:
        rest = [int(number) for number in rng.permutation(order[1:])]
        if tuple(rest) != order[1:]:
            return (order[0], *rest)
