"""How near are cam shift and mark offset, is the right cause first, and do the steps agree?

    python tests/benchmarks/cam_and_marks.py [engines] [--first SEED] [--keep FILE]

Engines, cams, marks and rigs of timing_draws, faults alone and several at once, by starter and by
hand. Each recording is asked as a person would: ``cam`` with the clearances set, ``marks`` with an
earlier reading where there is one, and ``marks`` alone, which must not contradict ``cam``. Shares
come with their binomial interval at 95 %, and what is left out of a count is counted. With --keep
the outcomes are written down as they come, and a run that was broken off is taken up again.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from binomial import told
from random_benches import recording_of
from timing_draws import FAULTS_DRAWN, Case, case_of
from timing_truth import contradiction, figures_tell, true_causes

from strokewise.analysis.cam import cam_seen
from strokewise.analysis.crank.strokes import nearest
from strokewise.analysis.estimate import Z_95, Interval
from strokewise.analysis.marks.mark_causes import MarkCauses
from strokewise.analysis.timing.cam_answer import CamQuestion, cam_answer
from strokewise.analysis.timing.marks_answer import MarksQuestion, marks_answer
from strokewise.analysis.trace.check import Recorded
from strokewise.analysis.verdict.found import Found
from strokewise.daq.bench.bench import take
from strokewise.gui.found import found_of
from strokewise.gui.steps import ask

SURE, VERY_SURE = 0.95, 0.999


@dataclass(frozen=True)
class Outcome:
    """What came of one engine; None where the tool said nothing, or nothing is to be counted.

    Attributes
    ----------
    tells : bool
        Figures can tell the true causes from all others with as few faults.
    wrong : float
        Probability of the surest wrong cause that accuses something.
    wrong_sound : float
        Of the surest wrong word that a part is right.
    contradiction : str
        In what ``marks`` and ``cam`` contradict each other; empty where they agree.
    """

    seed: int
    by_hand: bool
    faults: tuple[str, ...]
    shift_error: float | None = None
    shift_inside: bool | None = None
    mark_errors: tuple[float, ...] = ()
    marks_inside: tuple[bool, ...] = ()
    tells: bool = False
    first: bool | None = None
    wrong: float = 0.0
    wrong_cause: str = ""
    wrong_sound: float = 0.0
    contradiction: str = ""


def outcome_of(seed: int) -> Outcome:
    """Turn one engine and ask."""
    case = case_of(seed)
    found = found_of(Recorded(str(seed), recording_of(take(case.bench)), case.profile))
    return judged(case, found)


def judged(case: Case, found: Found) -> Outcome:
    """Return what the answers about a recording are worth."""
    faults = tuple(sorted(case.faults))
    earlier = tuple(case.earlier.items())
    told_apart = marks_answer(MarksQuestion(earlier=earlier), found)
    cam = cam_answer(CamQuestion(clearances_set=True), found)
    shift = cam.timing.cam.shift.shift
    places = [
        (place.after_tdc, true + case.seen_from_deg)
        for place, true in zip(told_apart.places, (case.notch_deg, case.dot_deg), strict=False)
        if place.after_tdc is not None and not {"order", "cylinder"} <= case.faults
    ]
    sigma = None if shift is None else shift.half_width / Z_95
    first, wrong, cause, sound = _causes(case, told_apart.causes)
    return Outcome(
        seed=case.seed,
        by_hand=case.by_hand,
        faults=faults,
        shift_error=None if shift is None else shift.value - case.shift_deg,
        shift_inside=None if shift is None else _holds(shift, case.shift_deg),
        mark_errors=tuple(nearest(after.value - true, 360.0) for after, true in places),
        marks_inside=tuple(_holds(after, true) for after, true in places),
        tells=figures_tell(case, sigma),
        first=first,
        wrong=wrong,
        wrong_cause=cause,
        wrong_sound=sound,
        contradiction=_contradiction(found),
    )


def _holds(interval: Interval, true: float) -> bool:
    near = interval.value - nearest(interval.value - true, 360.0)
    return interval.low <= near <= interval.high


def _causes(case: Case, causes: MarkCauses) -> tuple[bool | None, float, str, float]:
    """Whether every part has its true cause first, the surest wrong cause, and wrong all-clear."""
    if not causes.findings:
        return None, 0.0, "", 0.0
    true = true_causes(case)
    wrong = [each for each in causes.findings if each.cause not in true.get(each.part, ())]
    accusing = [each for each in wrong if not each.sound]
    worst = max(accusing, key=lambda each: each.probability)
    sound = max((each.probability for each in wrong if each.sound), default=0.0)
    first = all(each.cause in true[each.part] for each in causes.leading)
    return first, worst.probability, f"{worst.part}: {worst.cause}", sound


def _contradiction(found: Found) -> str:
    marks, cam = ask("marks", found), ask("cam", found, {"clearances_set": "yes"})
    if not marks.decided:
        return ""
    said = [step.json | {"headline": step.page.headline} for step in (marks, cam)]
    return contradiction(*said)


def remember_events() -> None:
    """Look for the valves of one recording once, however often it is asked."""
    plain, kept = cam_seen.valve_events, {}

    def events(judgement, profile, sensor):  # type: ignore[no-untyped-def]
        if kept.get("of") is not judgement:
            kept.update(of=judgement, events=plain(judgement, profile, sensor))
        return kept["events"]

    cam_seen.valve_events = events


def outcomes_of(seeds: Sequence[int], keep: Path | None) -> list[Outcome]:
    """Return the outcome of every seed, those kept before among them."""
    done: dict[int, Outcome] = {}
    if keep is not None and keep.exists():
        for line in keep.read_text().splitlines():
            values = {
                k: tuple(v) if isinstance(v, list) else v for k, v in json.loads(line).items()
            }
            done[values["seed"]] = Outcome(**values)
    for seed in seeds:
        if seed in done:
            continue
        done[seed] = outcome_of(seed)
        print(done[seed], file=sys.stderr, flush=True)  # long runs are worth watching
        if keep is not None:
            with keep.open("a") as file:
                file.write(json.dumps(asdict(done[seed])) + "\n")
    return [done[seed] for seed in seeds]


def _shares(name: str, goal: str, hits: int, of: int) -> None:
    print(f"{name:<48} {told(hits, of)}; goal {goal}")


def _shift(name: str, some: list[Outcome]) -> None:
    answered = [o for o in some if o.shift_error is not None]
    if not answered:
        print(f"cam shift {name}: none of {len(some)}")
        return
    size = np.abs([o.shift_error for o in answered if o.shift_error is not None])
    print(
        f"cam shift {name}: {len(answered)} of {len(some)} answered, median {np.median(size):.2f}°"
        f" (goal 0.5°), 95 % {np.percentile(size, 95):.2f}° (goal 2°), worst {size.max():.2f}°"
    )
    inside = sum(bool(o.shift_inside) for o in answered)
    _shares("  in its interval", "91 to 98 %", inside, len(answered))


def show(found: list[Outcome]) -> None:
    """Print the table."""
    hand, starter = ([o for o in found if o.by_hand is by] for by in (True, False))
    print(f"seeds {found[0].seed} to {found[-1].seed}: {len(found)} engines, {len(hand)} by hand")
    for fault in (*FAULTS_DRAWN, "order", "backwards"):
        print(f"  {fault:<12} {sum(fault in o.faults for o in found):4}")
    print(f"  {'none':<12} {sum(not o.faults for o in found):4}")
    print(f"  {'several':<12} {sum(len(o.faults) > 1 for o in found):4}\n")
    _shift("by starter", starter)
    _shift("by hand", hand)
    inside = [ok for o in found for ok in o.marks_inside]
    errors = np.abs([error for o in found for error in o.mark_errors])
    print(
        f"marks: {len(inside)} placed, median {np.median(errors):.2f}°, 95 %"
        f" {np.percentile(errors, 95):.2f}°, worst {errors.max():.2f}°"
    )
    _shares("  in their interval", "91 to 98 %", sum(inside), len(inside))
    weighed = [o for o in found if o.first is not None]
    tells = [o for o in weighed if o.tells]
    print(f"causes: none weighed in {len(found) - len(weighed)}; figures cannot tell in"
          f" {len(weighed) - len(tells)}, left out of the next line")  # fmt: skip
    _shares("  all true causes first", "97 %", sum(bool(o.first) for o in tells), len(tells))
    _counted("a wrong cause at 0.95 or more", "at most 2 %", weighed, lambda o: o.wrong >= SURE)
    _counted("a wrong cause at 0.999 or more", "none", weighed, lambda o: o.wrong >= VERY_SURE)
    clear = "a part called right at 0.95 or more that is not"
    _counted(clear, "told beside", weighed, lambda o: o.wrong_sound >= SURE)
    _counted("marks and cam contradict", "none", found, lambda o: bool(o.contradiction))
    for o in found:
        if (o.tells and o.first is False) or o.wrong >= SURE or o.contradiction:
            told_by = "" if o.tells else "figures cannot tell"
            about = f"{', '.join(o.faults) or 'none'}{' by hand' * o.by_hand}"
            worst = f"{o.wrong:.4f} {o.wrong_cause}"
            said = f"first {o.first}; wrong {worst}; {told_by}{o.contradiction}"
            print(f"  seed {o.seed} {about}: {said}")


def _counted(name: str, goal: str, some: list[Outcome], is_so: Callable[[Outcome], bool]) -> None:
    _shares(f"  {name}", goal, sum(map(is_so, some)), len(some))


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("engines", type=int, nargs="?", default=20)
    parser.add_argument("--first", type=int, default=0, help="seed of the first engine")
    parser.add_argument("--keep", type=Path, help="file of outcomes, to be taken up again")
    args = parser.parse_args()
    remember_events()
    show(outcomes_of(range(args.first, args.first + args.engines), args.keep))


if __name__ == "__main__":
    main()
