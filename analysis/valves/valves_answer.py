"""Which valves can be set now, where to turn next, and does each gap come out right?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from strokewise.analysis.errors import SaidError
from strokewise.analysis.profile import Profile
from strokewise.analysis.question import saying
from strokewise.analysis.valves.base_circle import Kind, check_keys, valves_of
from strokewise.analysis.valves.clearances import (
    INCH_BLADES_MM,
    METRIC_BLADES_MM,
    FeelerStack,
    Gap,
    ShimChoice,
    choose_shims,
    feeler_stacks,
    target_mm,
)
from strokewise.analysis.valves.valve_setting import ValveSetting, valve_setting
from strokewise.analysis.verdict.found import Standing

GAPS_AT_MOST = 3  # as found, as set, after the locknut was nipped up


@dataclass(frozen=True, slots=True)
class ValvesQuestion:
    """What a person may say of the valves; valves by key or by number along the head.

    Attributes
    ----------
    after_tdc_deg : float or None
        Where the crank stands, after the firing TDC of cylinder 1; before what was measured.
    done : tuple of str
        Valves that are set.
    gap : tuple of (str, tuple of float or None)
        Gaps in mm as found, as set, after the locknut was nipped up.
    fitted : tuple of (str, float)
        Thickness in mm of the fitted shims.
    shims : tuple of float
        Shims at hand, in mm.
    """

    after_tdc_deg: float | None = saying("number")
    done: tuple[str, ...] = saying("valves", (), many=True)
    gap: tuple[tuple[str, tuple[float | None, ...]], ...] = saying("name and gaps", many=True)
    fitted: tuple[tuple[str, float], ...] = saying("name and length", many=True)
    shims: tuple[float, ...] = saying("lengths", ())
    blades: Literal["metric", "inch"] = saying("choice", "metric", choices=("metric", "inch"))
    engine_is: Literal["cold", "hot"] | None = saying("choice", choices=("cold", "hot"))


@dataclass(frozen=True, slots=True)
class ValvesAnswer:
    """What is said about the valves.

    Attributes
    ----------
    standing : Standing
        Where the crank stands, as measured or as said.
    shims : dict of str to tuple of ShimChoice
        By valve, where a fitted shim was said and its gap says something.
    feelers : dict of str to tuple of FeelerStack
        By kind of valve.
    """

    standing: Standing
    setting: ValveSetting
    shims: dict[str, tuple[ShimChoice, ...]]
    feelers: dict[Kind, tuple[FeelerStack, ...]]

    @property
    def decided(self) -> bool:
        """Whether it is known where the crank stands."""
        return not self.standing.why_not


def valves_answer(question: ValvesQuestion, standing: Standing) -> ValvesAnswer:
    """Return what can be set where the crank stands, and what goes with it.

    Raises
    ------
    InputError
        A valve that the engine does not have or that is said more than once, or a gap that
        cannot be judged.
    """
    standing = standing.at(question.after_tdc_deg)
    profile = standing.profile
    _check_said_once(profile, question)
    setting = valve_setting(
        profile,
        0.0,
        standing.after_deg or 0.0,
        done=_keys(profile, question.done),
        gaps=_gaps(profile, question),
        engine_is=question.engine_is,
        place_known=standing.after_deg is not None,
        tdc_within_deg=standing.within_deg,
    )
    blades = METRIC_BLADES_MM if question.blades == "metric" else INCH_BLADES_MM
    feelers = {
        kind: feeler_stacks(target, blades) for kind, target in setting.targets_mm.items() if target
    }
    return ValvesAnswer(standing, setting, _shims(profile, setting, question), feelers)


def _keys(profile: Profile, said: Sequence[str]) -> tuple[str, ...]:
    """Valves by key or by number along the head, as keys."""
    by_number = {str(v.number): v.key for v in valves_of(profile) if v.number is not None}
    keys = tuple(by_number.get(part, part.upper()) for part in said)
    check_keys(profile, keys)
    return keys


def _check_said_once(profile: Profile, question: ValvesQuestion) -> None:
    """Refuse a valve that is both right and not: which of two figures came last is not seen."""
    for name, said in (("gap", question.gap), ("fitted", question.fitted)):
        keys = _keys(profile, [valve for valve, _ in said])
        for key in keys:
            if keys.count(key) > 1:
                raise SaidError(f"{{{name}}} of {key} is said more than once: give the last alone")


def _gaps(profile: Profile, question: ValvesQuestion) -> list[Gap]:
    kinds = {valve.key: valve.kind for valve in valves_of(profile)}
    gaps = []
    for valve, measured in question.gap:
        (key,) = _keys(profile, [valve])
        wanted = target_mm(profile, kinds[key])
        if len(measured) > GAPS_AT_MOST or wanted is None:
            few = len(measured) <= GAPS_AT_MOST
            raise SaidError(
                f"{{gap}} of {valve} has "
                + ("no figure to hold to" if few else "more than three gaps")
                + ": give found, set and nipped, and the clearance in the profile"
                " (valves.clearance_inlet, valves.clearance_exhaust)"
            )
        gaps.append(Gap(key, wanted, *measured))
    return gaps


def _shims(
    profile: Profile, setting: ValveSetting, question: ValvesQuestion
) -> dict[str, tuple[ShimChoice, ...]]:
    found = {check.gap.valve: check for check in setting.gaps}
    shims = {}
    for valve, fitted_mm in question.fitted:
        (key,) = _keys(profile, [valve])
        check = found.get(key)
        if check is None or check.gap.before_mm is None:
            raise SaidError(
                f'{{fitted}} of {valve} needs the gap as found: {{gap}} "{key}=0.25 mm"'
            )
        if not check.judged:
            continue
        shims[key] = choose_shims(
            fitted_mm, check.gap.before_mm, check.gap.target_mm, question.shims or None
        )
    return shims
