"""The figures behind the answers, as kept in ``figures/``: what they rest on does not move unseen.

An answer is rounded and its interval is wide; a weight, a sigma or a prior that changes shows in
the figures behind it first. Whoever changes how TDC or the stroke is found writes them anew

    PYTHONPATH=tests/suite python tests/analysis/test_figures_kept.py

and has to say why each that moved is better now: the benchmarks tell, these do not.
"""

from __future__ import annotations

import json
import math
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from strokewise.analysis.cam.valve_events import valve_events
from strokewise.analysis.remark import Notice, Remark
from strokewise.analysis.stroke.phase import Phase
from strokewise.analysis.verdict.tracker import Tracker
from strokewise.daq.profile.known import known_engine
from strokewise.daq.recording.read import read_recording
from strokewise.gui.sayings import say

RECORDINGS = Path(__file__).resolve().parents[2] / "recordings"
KEPT = Path(__file__).parent / "figures"

NAMES = sorted(file.stem for file in RECORDINGS.glob("*.swr"))

RELATIVE, ABSOLUTE = 1e-3, 1e-5
"""Fits end a little elsewhere on another machine; a prior or a weight that changes moves more."""

SHOWN = 12
"""Of a longer row, its size stands for the rest."""


def figures_of(name: str) -> Any:
    """Return all that the tracker thinks at the end of a shipped recording."""
    recording = read_recording(RECORDINGS / f"{name}.swr")
    profile = known_engine(header=recording.header).profile
    tracker = Tracker(profile)
    for segment in recording.segments:
        tracker.feed(segment)
    verdict = tracker.verdict(closing=True)
    judged = tracker.judgement
    events = () if judged.fit is None else valve_events(judged, profile, profile.sensors[0])
    return {"judgement": plain(judged), "verdict": plain(verdict), "valves": plain(events)}


def plain(value: Any) -> Any:
    """Return a value as JSON can hold it; an array as its size, mean and spread."""
    if isinstance(value, Phase):
        chances = (value.even, value.odd, value.every, value.none)
        return [plain(value.visits), *(math.log10(max(chance, 1e-99)) for chance in chances)]
    if isinstance(value, Remark):
        return say(value)
    if isinstance(value, Notice):
        return {"code": value.code, "text": say(value.remark)}
    if is_dataclass(value):
        return {field.name: plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, np.ndarray):
        if value.dtype == bool:
            return [value.size, int(value.sum())]
        seen = value[np.isfinite(value)].astype(float)
        return [value.size, float(seen.mean()), float(seen.std())] if seen.size else [value.size]
    if isinstance(value, dict):
        return {str(key): plain(each) for key, each in value.items()}
    if isinstance(value, tuple | list):
        return [len(value), *(plain(each) for each in value[:SHOWN])]
    if isinstance(value, np.generic):
        value = value.item()
    return str(value) if isinstance(value, float) and not math.isfinite(value) else value


@pytest.mark.parametrize("name", NAMES)
def test_the_figures_behind_an_answer_are_those_kept(name: str) -> None:
    kept = json.loads((KEPT / f"{name}.json").read_text(encoding="utf-8"))
    compare(json.loads(json.dumps(figures_of(name))), kept, name)


def compare(now: Any, kept: Any, where: str) -> None:
    """Hold figures against kept ones, and say which is another."""
    if isinstance(kept, dict):
        assert now.keys() == kept.keys(), where
        for key in kept:
            compare(now[key], kept[key], f"{where}.{key}")
    elif isinstance(kept, list):
        assert len(now) == len(kept), where
        for number, (one, other) in enumerate(zip(now, kept, strict=True)):
            compare(one, other, f"{where}[{number}]")
    elif isinstance(kept, float):
        assert now == pytest.approx(kept, rel=RELATIVE, abs=ABSOLUTE), where
    else:
        assert now == kept, where


def rounded(value: Any) -> Any:
    """Return figures to seven digits: the rest is noise, and would only make differences."""
    if isinstance(value, dict):
        return {key: rounded(each) for key, each in value.items()}
    if isinstance(value, list):
        return [rounded(each) for each in value]
    return float(f"{value:.7g}") if isinstance(value, float) else value


if __name__ == "__main__":
    KEPT.mkdir(exist_ok=True)
    for each in NAMES:
        text = json.dumps(rounded(figures_of(each)), indent=1, ensure_ascii=False)
        (KEPT / f"{each}.json").write_text(text + "\n", encoding="utf-8")
