"""How is the response time of sensor and hose said? The page of ``response``."""

from __future__ import annotations

from math import ceil

from strokewise.analysis.compression.response import (
    ResponseAnswer,
    ResponseQuestion,
    response_answer,
)
from strokewise.analysis.profile import Profile
from strokewise.gui.pages.answers import interval_answer
from strokewise.gui.pages.cautions import (
    HOSE_AND_HEAT,
    MANUAL_FIRST,
    PLUG_HOLE_PRESSURE,
    TURNING_BY_HAND,
    Caution,
)
from strokewise.gui.pages.headline import Claim, Rank
from strokewise.gui.pages.page import Facts, Page, Row, page_of
from strokewise.gui.pages.step import Figures, Step
from strokewise.gui.pages.words import sentence
from strokewise.gui.sayings import say

SECONDS_DECIMALS = 7  # a tenth of a microsecond: far below what any board resolves


def response_cautions(profile: Profile | None = None) -> tuple[Caution, ...]:
    """Return what can hurt while pressure is let go by hand, the sensor in the plug hole."""
    return (PLUG_HOLE_PRESSURE, HOSE_AND_HEAT, TURNING_BY_HAND, MANUAL_FIRST)


def response_page(answer: ResponseAnswer) -> Page:
    """Return the page of an answer."""
    response = answer.response
    found = response.response_s
    rows: list[Row] = []
    if found is None:
        claim = Claim(f"NOT SURE. {sentence(say(response.reason))}", Rank.UNKNOWN)
    else:
        bound = milliseconds(found.high)
        claim = Claim(f"RESPONSE TIME AT MOST {bound}. {sentence(say(response.reason))}")
        rows = [
            Row("At most", f"{bound} (95 %); of the best fit {milliseconds(found.value)}"),
            Row("For the profile", f'response_time = "{bound}" under [sensor]'),
        ]
        for step in response.steps:
            bar = f"{step.from_bar:.2f} to {step.to_bar:.2f} bar"
            text = f"{bar}, at most {milliseconds(step.bound_s)}"
            rows.append(Row(f"Step at {step.time_s:.2f} s", text))
    return page_of(
        "response",
        (claim,),
        decided=answer.decided,
        reason=say(response.reason),
        parts=(Facts(tuple(rows)),),
        warnings=answer.warnings,
        cautions=response_cautions(),
    )


def milliseconds(seconds: float) -> str:
    """Return a time as the profile takes it, rounded up so that a bound stays one."""
    return f"{ceil(seconds * 1e5 - 1e-6) / 100:g} ms"


def response_figures(answer: ResponseAnswer) -> Figures:
    """Return the keys of ``strokewise response --json`` beside those of every answer."""
    found = answer.response.response_s
    return {
        "response_time": interval_answer(found, SECONDS_DECIMALS),
        "upper_bound": None if found is None else milliseconds(found.high),
        "steps": len(answer.response.steps),
    }


STEP = Step(
    "response",
    ResponseQuestion,
    response_answer,
    response_page,
    response_figures,
    cautions=response_cautions,
)
