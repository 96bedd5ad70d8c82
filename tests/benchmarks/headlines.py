"""Does any headline say what its own page, or the truth, contradicts? Over random answers.

    python tests/benchmarks/headlines.py [answers] [--first SEED]

Scenarios, seeds and profiles are drawn, every step is asked several times about each recording with
drawn questions, and each printed page is read by :mod:`headline_reader`, which shares nothing with
what made it. Beside that the crank's true place is known: a cylinder called sure that fires
elsewhere, and a valve to be set now that is lifted, are findings too.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from headline_reader import contradictions, headline_of

from strokewise.analysis.compression.compare_answer import Measured
from strokewise.analysis.compression.cylinder_compression import CylinderCompression
from strokewise.analysis.errors import InputError, StrokewiseError
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Atmosphere
from strokewise.analysis.samples import Recording
from strokewise.analysis.trace.check import Recorded
from strokewise.analysis.verdict.found import Found
from strokewise.daq.bench.bench import take
from strokewise.daq.bench.scenarios.scenarios import SCENARIOS, scenario
from strokewise.daq.bench.stated_profile import stated_profile
from strokewise.daq.bench.truth import truth
from strokewise.daq.profile.known import check_table
from strokewise.daq.wire.intake import Intake
from strokewise.daq.wire.join import join
from strokewise.gui.found import found_of
from strokewise.gui.pages.text import page_text
from strokewise.gui.steps import Said, ask

SLOW = {
    *("run-down", "run-down-hot", "burning-petrol", "burning-diesel", "idling-misfires"),
    *("cut-after-running", "thermal-shock", "wandering-zero", "catches-while-cranking"),
}
"""Engines that run: long to simulate, and answered the same way as those that are cranked."""
NAMES = tuple(name for name in SCENARIOS if name not in SLOW)
OFTEN = ("cranked", "hand-turned", "clamp-slipped", "board-restarts", "cam-half-turn", "rocked")
"""Drawn as often again as all others: there a headline has most to get wrong."""

PROFILE: dict[str, Any] = {
    "static_timing": {"advance": "6 deg BTDC"},
    "pulley": {"radius": "80 mm"},
    "drive_gear": {
        "teeth": 10, "helix_angle": "45 deg", "pitch_diameter": "25 mm", "engagement": "12 mm",
        "hand": "right",
    },
    "distributor": {"rotation": "clockwise"},
}  # fmt: skip
WRONG_DEG = 3.0
"""An angle off by more than three times its ±, and by more than this, is another place."""
LIFTED_DEG = 3.0
"""Farther inside its timing than this, a valve is lifted."""


@dataclass(frozen=True)
class Made:
    """One recording, what was found in it, and the truth."""

    about: str
    found: Found
    recorded: Recorded
    truth: dict[str, Any]
    four_stroke: bool


def made(seed: int) -> Made:
    """Turn one engine and find its TDC."""
    rng = np.random.default_rng((20_270, seed))
    name = str(rng.choice(OFTEN if rng.random() < 0.5 else NAMES))
    more: dict[str, Any] = {}
    if name == "clamp-slipped":
        more["slip"] = float(rng.uniform(0.5, 40.0))
    if name == "hand-turned":
        more["turn"] = float(rng.uniform(500.0, 2600.0))
    bench = scenario(name).build(more, seed=int(rng.integers(1, 1_000_000)))
    taken = take(bench)
    table = stated_profile(bench)
    four = table.get("cycle", "four-stroke") == "four-stroke"
    if four:
        table = PROFILE | table
    table.pop("turning_back", None)
    allowed = rng.choice(["allowed", "never", ""])
    if allowed:
        table["turning_back"] = str(allowed)
    known = check_table(table)
    intake = Intake()
    segments = join(intake.feed(taken.items) + intake.finish())
    recorded = Recorded(name, Recording(segments, intake.health), known.profile, known.notices)
    return Made(f"{name} {seed}", found_of(recorded), recorded, truth(taken), four)


def answers(one: Made, seed: int) -> Iterator[tuple[str, Said]]:
    """Ask every step about a recording, with drawn questions."""
    rng = np.random.default_rng((20_271, seed))

    def about(step: str, subject: Any = None, **typed: Any) -> Iterator[tuple[str, Said]]:
        try:
            yield step, ask(step, one.found if subject is None else subject, typed)
        except InputError:
            return  # this engine has no such thing

    yield from about("find")
    yield from about("check", one.recorded)
    yield from about("response", one.recorded)
    yield from about("marks")
    yield from about("marks", earlier=[f"pulley notch={rng.uniform(-9, 9):.1f}"])
    yield from about("cam")
    yield from about("cam", clearances_set="yes", keyway="1")
    valves = [f"{c}{kind}" for c in one.found.profile.firing_order for kind in "EI"]
    gaps = [
        f"{valve}={rng.uniform(0.2, 0.45):.2f} mm"
        for valve in rng.choice(
            valves, int(rng.integers(1, min(4, len(valves) + 1))), replace=False
        )
    ]
    done = ",".join(rng.permutation(valves)[: int(rng.integers(1, len(valves) + 1))].tolist())
    yield from about("valves")
    yield from about("valves", gap=gaps)
    yield from about("valves", gap=gaps, done=done, after_tdc_deg=f"{rng.uniform(-720, 720):.0f}")
    yield from about("drive")
    yield from about("drive", found_deg=f"{rng.uniform(0, 360):.0f}")
    yield from about("static")
    shown = [f"{rpm}={rng.uniform(-2, 40):.0f}" for rpm in (700, 3200)]
    yield from about("static", strobe=shown, curve="800=0,3000=20")
    yield from about("compare", _measured(rng))


def _measured(rng: np.random.Generator) -> Measured:
    """Compressions of four cylinders, one of them often unlike the others."""
    peaks = 12.0 + rng.normal(0.0, 0.3, 4)
    peaks[int(rng.integers(4))] += float(rng.choice([0.0, -4.0, 3.0]))
    dry = tuple(
        CylinderCompression(
            number,
            Interval(float(peak), float(peak) - 0.1, float(peak) + 0.1),
            float(rng.uniform(150, 260)),
            Atmosphere(),
            6,
            passes_to_peak=2,
            leak_mm2=None,
        )
        for number, peak in enumerate(peaks, start=1)
    )
    return Measured(dry, (), 4, ())


def untrue(one: Made, step: str, said: Said) -> list[str]:
    """Return what the truth contradicts."""
    head, answer = headline_of(page_text(said.page)), said.json
    if step == "find" and answer["decided"] and not head.startswith("DECIDED, BUT FROM BEFORE"):
        tdc, true = answer["tdc"], one.truth["firing"]
        half = (tdc["high"] - tdc["low"]) / 2
        cycle = one.found.profile.cycle_deg
        off = (answer["firing"]["1"] - true["1"] + cycle / 2) % cycle - cycle / 2
        if abs(off) > max(WRONG_DEG, 3.0 * half) and "compare only" not in head:
            return [f"find: cylinder 1 fires {off:+.1f}° elsewhere: {head}"]
    if step == "valves" and "SET NOW" in head and _as_found(one, answer):
        return [
            f"valves: {key} is lifted: {head}"
            for key in head.partition("SET NOW: ")[2].partition(".")[0].split(", ")
            if _lifted(one, key)
        ]
    return []


def _as_found(one: Made, answer: dict[str, Any]) -> bool:
    """Whether the crank stands where the recording ends, and not where it was said to."""
    after = one.found.after_firing_1_deg
    return after is not None and abs((answer["crank"]["after_firing_1"] - after) % 720.0) < 1.0


def _lifted(one: Made, key: str) -> bool:
    """Whether a valve is off its seat by the true place of the crank and the stated timing."""
    timing = one.found.profile.valve_timing
    fires = one.truth["firing"].get(key[0])
    if timing is None or fires is None or one.found.angle_deg is None:
        return False
    after = (one.found.angle_deg - fires) % 720.0
    opens, closes = (
        (360 - timing.intake_opens_btdc_deg, 540 + timing.intake_closes_abdc_deg)
        if key[1] == "I"
        else (180 - timing.exhaust_opens_bbdc_deg, 360 + timing.exhaust_closes_atdc_deg)
    )
    return opens + LIFTED_DEG < after < closes - LIFTED_DEG


def read(one: Made, step: str, said: Said) -> list[str]:
    """Return everything that a page, its JSON and the truth make of each other."""
    return contradictions(step, page_text(said.page), said.json) + untrue(one, step, said)


def main() -> None:
    """Print how many pages of each step were read, and every finding."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("answers", type=int, nargs="?", default=500)
    parser.add_argument("--first", type=int, default=0)
    args = parser.parse_args()
    begun, seed = time.monotonic(), args.first
    asked: Counter[str] = Counter()
    decided: Counter[str] = Counter()
    found: list[str] = []
    while sum(asked.values()) < args.answers:
        try:
            one = made(seed)
        except StrokewiseError as error:
            print(f"seed {seed}: not made: {error}", flush=True)
            seed += 1
            continue
        for step, said in answers(one, seed):
            asked[step] += 1
            decided[step] += bool(said.json["decided"])
            for line in read(one, step, said):
                found.append(line)
                print(f"{one.about}: {line}", flush=True)
        seed += 1
    total = sum(asked.values())
    print(
        f"{total} answers about {seed - args.first} recordings, seeds {args.first} to {seed - 1},"
    )
    print(f"{time.monotonic() - begun:.0f} s")
    for step in asked:
        print(f"{step:10s} {asked[step]:5d} read, {decided[step]:5d} decided")
    print(f"{len(found)} contradicted by their own facts or the truth")


if __name__ == "__main__":
    main()
