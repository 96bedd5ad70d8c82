"""TDC met from both sides: what the model of the losses falls short of must not move it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from strokewise.analysis.verdict.find import find
from strokewise.daq.bench.bench import Bench
from strokewise.daq.bench.scenarios.scenarios import scenario


def rocked(correlation: str, leak_mm2: float, play_deg: float) -> Bench:
    """Return the rocked bench with losses and a clamp of one's own."""
    bench = scenario("rocked").build({})
    heat = replace(bench.engine.heat, correlation=correlation)
    encoder = replace(bench.rig.encoder, play_deg=play_deg)
    return replace(
        bench,
        engine=replace(bench.engine, heat=heat, ring_leak_mm2=leak_mm2),
        rig=replace(bench.rig, encoder=encoder),
    )


def error_deg(made: Any) -> tuple[float, float]:
    """Return how far TDC is off, and half its interval."""
    found = find(made.recording, made.profile).tdc
    assert found is not None
    apart = found.angle_deg.value - float(made.truth["tdc"]["angle"])
    return (apart + 180.0) % 360.0 - 180.0, found.angle_deg.half_width


@pytest.mark.parametrize(("correlation", "leak_mm2"), [("woschni", 0.5), ("annand", 2.5)])
def test_other_losses_than_the_models_do_not_move_the_middle(
    turned_bench: Callable[[Bench], Any], correlation: str, leak_mm2: float
):
    # Counted from the passes forth, these two were 0.03° and 0.06° early.
    off, half = error_deg(turned_bench(rocked(correlation, leak_mm2, play_deg=0.0)))
    assert abs(off) < 0.03
    assert abs(off) <= half


def test_play_moves_the_middle_by_half_of_itself(turned_bench: Callable[[Bench], Any]):
    (tight, _), (loose, _) = (
        error_deg(turned_bench(rocked("woschni", 0.5, play))) for play in (0.0, 0.3)
    )
    assert loose - tight == pytest.approx(0.15, abs=0.03)
