"""Every page as a whole, and its JSON, from answers made up for it: as kept.

The words of a page are held as they print elsewhere; here stands what no print shows: which fact is
not known, which sign is worn, the codes of cautions and warnings, and how each field is asked for.

    PYTHONPATH=tests/suite python tests/suite/suite_kept.py tests/gui/pages
"""

from __future__ import annotations

import importlib
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from suite_kept import held, plain

from strokewise.analysis.cam.cam import CamShift, Teeth
from strokewise.analysis.cam.cam_correction import CamChoice
from strokewise.analysis.cam.cam_seen import CamSeen
from strokewise.analysis.cam.valve_events import ValveEvent
from strokewise.analysis.crank.strokes import phase_at
from strokewise.analysis.estimate import Interval
from strokewise.analysis.ignition.drive_answer import DriveQuestion, drive_answer
from strokewise.analysis.ignition.static_answer import StaticQuestion, static_answer
from strokewise.analysis.marks.cam_evidence import chance_of
from strokewise.analysis.marks.half_turn import HalfTurn
from strokewise.analysis.marks.mark_causes import NO_CAUSES, weigh_causes
from strokewise.analysis.marks.marks import MarkPlace, Offset
from strokewise.analysis.marks.rig_states import Sensed
from strokewise.analysis.profile import (
    Atmosphere,
    CamDrive,
    DriveGear,
    Mark,
    Profile,
    Sensor,
    Valves,
    ValveTiming,
    even_intervals_deg,
)
from strokewise.analysis.remark import notice, remark
from strokewise.analysis.samples import Health, Recording
from strokewise.analysis.tdc.diagnostics import Diagnostics
from strokewise.analysis.timing.cam_answer import CamAnswer
from strokewise.analysis.timing.marks_answer import MarksAnswer
from strokewise.analysis.timing.timing import Timing
from strokewise.analysis.trace.check import CheckQuestion, Recorded, check_answer
from strokewise.analysis.trace.recorded import ChannelFacts, SegmentFacts
from strokewise.analysis.valves.valves_answer import ValvesQuestion, valves_answer
from strokewise.analysis.verdict.find import FindAnswer
from strokewise.analysis.verdict.found import Standing
from strokewise.analysis.verdict.verdict import Candidate, Compression, Tdc, Verdict
from strokewise.gui.pages import cautions, sign
from strokewise.gui.pages.answers import answer_json, find_figures
from strokewise.gui.pages.cam import cam_figures, cam_page
from strokewise.gui.pages.cautions import Caution
from strokewise.gui.pages.check import check_figures, check_page, engine_words, run_words
from strokewise.gui.pages.drive import drive_figures, drive_page
from strokewise.gui.pages.find import air_words, find_page
from strokewise.gui.pages.headline import exactly, off_words, sided_apart, spread, within
from strokewise.gui.pages.marks import marks_figures, marks_page
from strokewise.gui.pages.static import static_figures, static_page
from strokewise.gui.pages.stored import page_from, page_table
from strokewise.gui.pages.text import page_text
from strokewise.gui.pages.valves import valves_figures, valves_page
from strokewise.gui.pages.words import (
    counted,
    degrees,
    health_words,
    interval_words,
    percent,
    sentence,
)
from strokewise.gui.registry import STEPS

FOUR = Profile(
    4,
    (1, 3, 4, 2),
    even_intervals_deg(4, 720.0),
    valve_timing=ValveTiming(11.0, 47.0, 52.0, 16.0, 0.6),
    valves=Valves("EIIEEIIE", 0.2, 0.35),
    cam_drive=CamDrive(19, 38, (0.0, 2.5)),
    drive_gear=DriveGear(13, 34.0, 21.5, 9.3, "left"),
    distributor_rotation="counter-clockwise",
    static_advance_btdc_deg=7.0,
    pulley_radius_mm=68.0,
    flywheel_teeth=121,
    turning_back="never",
)
BARE = Profile(3, (1, 3, 2), even_intervals_deg(3, 720.0), turning_back="allowed")
STROKER = Profile(1, (1,), (360.0,), cycle="two-stroke")
WARNED = (notice("clipped", share=0.123), notice("cylinder-assumed"))
NO_TDC = remark("pressure-flat")
BEFORE = remark("from-before", why=remark("started-anew"))


def interval(value: float, half: float = 0.4) -> Interval:
    return Interval(value, value - half, value + 1.5 * half)


def page(made: Any, figures: Callable[[Any], Any], answer: Any) -> Any:
    """Return a page and its JSON; its cautions and warnings by their codes, each is kept once."""
    shown = made(answer)
    again = page_from(page_table(shown))
    assert page_text(again) == page_text(shown)
    said = plain(shown) | {
        "cautions": [each.code for each in shown.cautions],
        "warnings": [each.code for each in shown.warnings],
    }
    return [said, figures(answer)]


def find(**change: Any) -> Any:
    sure = Verdict(
        True,
        remark("compresses-at-every-turn", cylinder=2),
        WARNED,
        Tdc(interval(81.25, 0.21), 2, "fit", 5, 12.34),
        {1: 621.25, 3: 81.25, 4: 261.25, 2: 441.25},
        0.99997,
        (Candidate(621.25, 0.99997), Candidate(261.25, 0.00003)),
        Compression(12.34, 11.33, 5),
        Health(frames=1000, lost_frames=3, bad_frames=2),
        0.004,
        diagnostics=Diagnostics(interval(8.9), interval(0.51, 0.1), interval(1.2), interval(12.0)),
    )
    profile = change.pop("profile", FOUR)
    end = phase_at(profile, 621.25, 700.0) if change.pop("end", True) else None
    return page(find_page, find_figures, FindAnswer(replace(sure, **change), profile, end))


LATE = CamShift(interval(17.3, 1.1), interval(16.0, 2.0), interval(19.0, 3.0), Teeth(1, 0.97))
CHOICES = (CamChoice(1, 1, interval(-1.6), 0.97), CamChoice(0, 2, interval(22.3), 0.01))


def cam(**change: Any) -> Any:
    events = (
        ValveEvent("intake closes", interval(-121.0), 1.1, -118.2, 5, 0.9),
        ValveEvent("exhaust opens", interval(133.0), 1.3, None, 1, 1.4, True),
    )
    seen = CamSeen(
        events=change.pop("events", events),
        step_bar=change.pop("step_bar", 0.005),
        overlap_fall_bar=change.pop("overlap_fall_bar", 0.012),
    )
    told = Timing(
        change.pop("places", ()),
        seen,
        change.pop("cam_shift", None),
        change.pop("causes", NO_CAUSES),
        change.pop("half_turn", HalfTurn(("dot",), probability=0.995)),
        "steady",
    )
    usual = CamAnswer(FOUR, "", None, told, LATE, {"cam": CHOICES}, 1, WARNED)
    return page(cam_page, cam_figures, replace(usual, **change))


TWO = CamShift(None, interval(16.0, 2.0), interval(-19.0, 3.0), None, Teeth(1, 0.9), Teeth(-1, 0.8))
NOTCH = Mark("notch", 1, "pulley", -4.0)
DOT = Mark("dot", 3, "cam sprocket", 4.0, "firing")


def at(mark: Mark, late: float, **more: Any) -> MarkPlace:
    stated = mark.stated_atdc_deg or 0.0
    made = MarkPlace(mark, 4, interval(late + stated), interval(late), turn=mark.turn)
    return replace(made, **more)


def marks(*places: MarkPlace, **change: Any) -> Any:
    shift, clamp = change.pop("cam_shift", None), change.pop("clamp", "unknown")
    sensed = change.pop("sensed", None)
    causes = weigh_causes(places, FOUR, seen=shift and chance_of(shift), clamp=clamp, sensed=sensed)
    slipped_deg = change.pop("slipped_deg", None)
    told = Timing(places, CamSeen(), shift, causes, HalfTurn(), clamp, slipped_deg, sensed)
    return page(
        marks_page, marks_figures, replace(MarksAnswer(FOUR, "", None, told, WARNED), **change)
    )


MEASURES = Offset(interval(5.2), interval(1.4, 0.1), interval(0.3, 0.05))


def valves(profile: Profile, after: float | None, **said: Any) -> Any:
    standing = Standing(profile, after, NO_TDC if after is None else None, WARNED)
    return page(valves_page, valves_figures, valves_answer(ValvesQuestion(**said), standing))


def static(profile: Profile, after: float | None, within: float = 0.0, **said: Any) -> Any:
    why = NO_TDC if after is None else None
    standing = Standing(profile, after, why, WARNED, within_deg=within)
    return page(static_page, static_figures, static_answer(StaticQuestion(**said), standing))


def drive(profile: Profile, after: float | None, **said: Any) -> Any:
    standing = Standing(profile, after, NO_TDC if after is None else None, WARNED)
    return page(drive_page, drive_figures, drive_answer(DriveQuestion(**said), standing))


def asked(name: str, module: str) -> Any:
    step = importlib.import_module(module).STEP
    return [
        name,
        step.name,
        step.labels,
        step.options,
        step.cautions_heading,
        [[c.code for c in step.cautions(profile)] for profile in (FOUR, BARE)],
        {field: [saying.kind, saying.many, saying.group] for field, saying in step.takes.items()},
    ]


DRIVE = drive_answer(DriveQuestion(), Standing(FOUR, 12.0, None, WARNED))


def lacked() -> Any:
    """Return which keys of the profile each step asks for when it stays open."""
    said = {}
    for name, question in (
        ("drive", DriveQuestion()), ("static", StaticQuestion()), ("valves", ValvesQuestion()),
    ):  # fmt: skip
        entry = next(each for each in STEPS if each.name == name)
        step = importlib.import_module(entry.module).STEP
        for engine in (FOUR, replace(FOUR, distributor_rotation=None)):
            for after in (12.0, None):
                standing = Standing(engine, after, NO_TDC if after is None else None, WARNED)
                said.setdefault(name, []).append(step.lacks(step.answer(question, standing)))
    step = importlib.import_module("strokewise.gui.pages.marks").STEP
    told = Timing((), CamSeen(), None, NO_CAUSES, HalfTurn(), "unknown")
    for why in ("no marks", "no tdc", ""):
        said.setdefault("marks", []).append(step.lacks(MarksAnswer(FOUR, why, None, told, ())))
    return said


SENSED = replace(
    FOUR,
    name="the bench",
    sensors=(Sensor(cylinder=3), Sensor(cylinder=2, place="manifold"), Sensor(place="manifold")),
)
READING = ChannelFacts(3, 4001, 0.0123)
RUNS = (
    SegmentFacts(0, 700, 12.34, 1999.6, 0, 3.21, 0.04, 4095, (READING,), 0, (), {}, 0),
    SegmentFacts(1, 9, 0.5, 20000.0, 1, 0.0, 7.0, 1023, (), 1, (2399, 2401), {1: 1, 3: 2}, 1),
    SegmentFacts(2, 9, 0.5, 20.0, 2, 0.0, 7.0, 1023, (READING,) * 2, 3, (), {2: 0}, 4),
)


def checked(health: Health, notes: tuple[str, ...] = (), **started: str) -> Any:
    recording = Recording((), health, dict(started), notes)
    answer = check_answer(CheckQuestion(), Recorded("a.swr", recording, FOUR, WARNED))
    runs = RUNS if notes else RUNS[1:2] if health.missing_bytes else ()
    return page(check_page, check_figures, replace(answer, runs=runs, clipped=0.0123))


DEEP = {"slot_angle_deg": 20.0, "slot_depth_mm": 3.0}
CURVE = ((800.0, 0.0), (3000.0, 20.0))

CASES: dict[str, Callable[[], Any]] = {
    **{
        f"how {entry.name} is asked": lambda entry=entry: asked(entry.name, entry.module)
        for entry in STEPS
    },
    "what is lacking": lambda: lacked(),
    "checked": lambda: [
        checked(Health(samples=0)),
        checked(Health(samples=1, frames=9), ("a note", "another"), started="on a Monday"),
        checked(Health(samples=700, frames=9, lost_frames=2, bad_frames=1)),
        checked(Health(samples=700, frames=9, missing_bytes=1)),
        checked(Health(samples=700, lost_frames=1, missing_bytes=31, unchecked_lines=4)),
    ],
    "a recording, in words": lambda: [
        [engine_words(engine) for engine in (FOUR, BARE, STROKER, SENSED)],
        [run_words(run) for run in RUNS],
    ],
    "steps": lambda: [[e.name, *map(str, plain(e).values())] for e in STEPS],
    "cautions": lambda: (
        {name: each for name, each in sorted(vars(cautions).items()) if isinstance(each, Caution)}
        | {
            "turning back": [cautions.turning_back(p) for p in (FOUR, BARE, STROKER, None)],
            "before recording": cautions.before_recording(),
            "before the check": cautions.before_rig_check(),
        }
    ),
    "signs": lambda: (
        {name: each for name, each in sorted(vars(sign).items()) if isinstance(each, sign.Sign)}
        | {"by share": [sign.most_probable(share) for share in (0.123, 0.5, 0.94999, 0.99995)]}
    ),
    "find": lambda: find(),
    "find, rough": lambda: find(
        decided=False,
        tdc=None,
        firing_deg=None,
        end=False,
        probability=0.99995,
        candidates=(Candidate(621.25, 0.99995, 41.0), Candidate(261.25, 0.00005, 41.0)),
    ),
    "find, open": lambda: find(
        decided=False,
        firing_deg=None,
        end=False,
        probability=0.61,
        candidates=(Candidate(621.25, 0.61), Candidate(261.25, 0.39)),
        diagnostics=None,
        compression=None,
    ),
    "find, nothing": lambda: find(
        decided=False,
        reason=NO_TDC,
        firing_deg=None,
        end=False,
        tdc=None,
        probability=0.5,
        candidates=(),
        diagnostics=None,
        compression=None,
        clipped=0.3,
        warnings=(),
    ),
    "find by a stop": lambda: find(tdc=Tdc(interval(351.0), 2, "stop", 1), diagnostics=None),
    "find by rocking": lambda: find(tdc=Tdc(interval(351.0), 2, "rocking", 1)),
    "find by heat": lambda: find(tdc=Tdc(interval(0.004, 0.002), 1, "heat-shape", 2)),
    "find, from before": lambda: find(
        reason=remark("answer-from-before", earlier=BEFORE, answer=NO_TDC), earlier=BEFORE
    ),
    "find, told little": lambda: find(
        diagnostics=Diagnostics(None, None, interval(-0.3), None),
        profile=replace(FOUR, atmosphere=Atmosphere(0.957, 31.0, True)),
    ),
    "find of a two-stroke": lambda: find(
        firing_deg={1: 81.25}, profile=STROKER, candidates=(Candidate(81.25, 0.99999),)
    ),
    "cam": lambda: cam(),
    "cam, early": lambda: cam(
        shift=CamShift(interval(-17.3, 1.1), None, interval(-19.0, 3.0), Teeth(-1, 0.97)),
        half_turn=HalfTurn((), ("dot",), 0.85),
    ),
    "cam, right": lambda: cam(
        shift=CamShift(interval(0.4, 1.1), interval(0.4), interval(0.4), Teeth(0, 0.99)),
        corrections={"cam": (CamChoice(0, 1, interval(0.4), 0.99),)},
    ),
    "cam, no drive known": lambda: cam(
        profile=replace(FOUR, cam_drive=None),
        shift=CamShift(interval(17.3, 1.1), interval(16.0), None, None),
        corrections={},
    ),
    "cam, right with another keyway": lambda: cam(
        corrections={"cam": (CamChoice(0, 2, interval(0.0, 0.3), 0.8), CHOICES[0])}
    ),
    "cams, two": lambda: cam(
        shift=TWO,
        corrections={
            "intake": (CamChoice(1, 1, interval(-1.6), 0.9),),
            "exhaust": (CamChoice(-1, 2, interval(2.3), 0.8),),
        },
        keyway=2,
    ),
    **{
        f"cam, {why}": lambda why=why: cam(
            open=why,
            why_no_tdc=NO_TDC if why == "no tdc" else None,
            events=(),
            shift=CamShift(None, None, None, None),
            corrections={},
            step_bar=0.2 if why == "coarse" else None,
            overlap_fall_bar=None,
            half_turn=HalfTurn(),
        )
        for why in ("two-stroke", "no sensor", "no points", "no tdc", "earlier start", "coarse")
    },
    **{
        f"cam, {why}": lambda why=why: cam(
            open=why,
            shift=CamShift(interval(17.3, 9.0), interval(16.0, 9.0), None, Teeth(1, 0.6)),
            overlap_fall_bar=0.09,
            half_turn=HalfTurn(("dot",), ("rotor",)),
            profile=FOUR if why != "no timing" else replace(FOUR, valve_timing=None),
        )
        for why in ("no events", "no timing", "wide", "between teeth")
    },
    "marks": lambda: marks(at(NOTCH, 6.2, offset=MEASURES), at(DOT, -2.1, late_in_cycle_deg=-2.1)),
    "marks, half a turn out": lambda: marks(
        at(DOT, 1.2, late_in_cycle_deg=361.2 - 720.0, turn="overlap", firing_cylinder=4)
    ),
    "cam, half a turn out": lambda: cam(
        half_turn=HalfTurn((), ("dot",), 0.85),
        causes=weigh_causes(
            (at(DOT, 1.2, late_in_cycle_deg=361.2 - 720.0),), FOUR, sensed=Sensed(1)
        ),
    ),
    "cam, another engine's dot": lambda: cam(
        half_turn=HalfTurn(untold=("dot",)),
        cam_shift=interval(0.4, 1.1),
        causes=weigh_causes(
            (at(DOT, 19.0, late_in_cycle_deg=19.0),), FOUR, seen=chance_of(interval(0.4, 1.1))
        ),
    ),
    "marks, another engine's dot": lambda: marks(
        at(DOT, 19.0, late_in_cycle_deg=19.0), cam_shift=interval(0.4, 1.1)
    ),
    "marks, the sensor elsewhere": lambda: marks(
        at(NOTCH, 180.0),
        at(DOT, -180.0, late_in_cycle_deg=-180.0),
        cam_shift=interval(0.4, 1.1),
        sensed=Sensed(1),
    ),
    "marks met turning back": lambda: marks(at(NOTCH, -1.8, backward_only=True)),
    "marks by the cam": lambda: marks(at(DOT, 19.0), cam_shift=interval(18.0, 1.0)),
    "marks, right": lambda: marks(at(NOTCH, 0.1), clamp="steady"),
    "marks, stepped": lambda: marks(
        at(NOTCH, 6.0, step_deg=4.0, drift=interval(2.0), backward=interval(4.5)),
        slipped_deg=4.0,
        clamp="slipped",
    ),
    "marks that state nothing": lambda: marks(
        MarkPlace(Mark("chalk"), 2, interval(-92.0), turn="both"), MarkPlace(NOTCH, 0)
    ),
    **{
        f"marks, {why}": lambda why=why: marks(
            *(() if why in ("no tdc", "no marks") else (at(DOT, 1.0, turn=None),)),
            open=why,
            why_open=NO_TDC if why in ("no tdc", "turn open") else None,
        )
        for why in ("no tdc", "no marks", "not met", "turn open")
    },
    "valves": lambda: valves(
        FOUR, 12.0, done=("2",), gap=(("1", (0.4, 0.35)), ("1I", (0.3,)), ("4I", (0.2,)))
    ),
    "valves, shims": lambda: valves(
        replace(FOUR, valves=replace(FOUR.valves, adjust="shim")),
        5.0,
        gap=(("1", (0.4,)), ("1I", (0.15,))),
        fitted=(("1E", 2.5),),
        blades="inch",
        engine_is="hot",
    ),
    "valves, open": lambda: valves(FOUR, None, gap=(("1", (0.4,)),)),
    "valves, bare": lambda: valves(BARE, 400.0),
    "valves, done": lambda: valves(BARE, 0.0, done=("1E", "1I", "2E", "2I", "3E", "3I")),
    "static": lambda: static(FOUR, 50.0),
    "static, after": lambda: static(FOUR, 50.0, advance_btdc_deg=-3.0, cylinder=4),
    "static, there": lambda: static(FOUR, -7.0),
    "static, about there": lambda: static(FOUR, -7.0, within=6.0),
    "static, open": lambda: static(BARE, None, advance_btdc_deg=8.0),
    **{
        f"static, {name}": lambda readings=readings, late=late: static(
            FOUR, 50.0, strobe=readings, curve=CURVE, mark_late=late
        )
        for name, readings, late in (
            ("strobed", ((700.0, 7.0), (3200.0, 27.0)), None),
            ("mark or setting", ((700.0, 13.0), (3200.0, 33.0)), None),
            ("mark", ((700.0, 13.0), (3200.0, 33.0)), interval(6.0)),
            ("setting", ((700.0, 13.0), (3200.0, 33.0)), interval(0.1)),
            ("advance", ((700.0, 7.0), (3200.0, 10.0)), None),
            ("alone", ((3200.0, 33.0),), None),
            ("idle", ((700.0, 7.5),), None),
        )
    },
    "drive": lambda: drive(FOUR, 12.0, lead_1_deg=40.0),
    **{
        f"drive, found at {found:g}": lambda found=found: drive(FOUR, 0.0, found_deg=found)
        for found in (0.4, 9.0, 30.0, 181.0, 200.0, 338.0)
    },
    "drive, open": lambda: drive(FOUR, None),
    **{
        f"drive, the pump's slot, {name}": lambda slot=slot, now=now: drive(
            replace(FOUR, drive_gear=replace(FOUR.drive_gear, **slot)), 12.0, slot_deg=now
        )
        for name, slot, now in (
            ("not stated", {}, 35.0),
            ("without its depth", {"slot_angle_deg": -35.0}, None),
            ("there", DEEP | {"slot": "turns"}, 26.5),
            ("turned", DEEP | {"slot": "turns"}, 61.0),
            ("fixed", DEEP | {"slot": "fixed"}, 61.0),
            ("nobody said", DEEP, 3.0),
        )
    },
    "drive, the way unsaid": lambda: drive(replace(FOUR, distributor_rotation=None), 33.0),
    "words": lambda: [
        sentence("it is so"),
        sentence("It is so."),
        [degrees(a, d) for a, d in ((-0.004, 2), (12.345, 1), (359.996, 2))],
        [percent(share) for share in (0.0, 0.001, 0.5, 0.994, 0.99991, 1.0)],
        [interval_words(i) for i in (interval(81.0), Interval(3.0, 2.0, 4.0))],
        [counted(n, "tooth", "late") for n in (0, 1, 2)],
        spread(interval(5.25), " mm", 1),
        [
            sided_apart(Interval(v, v - h, v + h), ("after", "before"), most=1)
            for v in (0.0, 0.4, 3.0, -0.4, -0.9, -3.0)
            for h in (0.2, 0.5, 2.0)
        ],
        [off_words(Interval(v, v - 0.004, v + 0.003)) for v in (0.0, 0.001, 0.0123, -7.4321)],
        [sided_apart(Interval(0.0, -0.3, 0.0)), sided_apart(Interval(0.0, 0.0, 0.3))],
        [within(Interval(v, v - h, v + 2 * h)) for v in (-0.4, 0.02) for h in (0.003, 0.3, 30.0)],
        [exactly(interval(81.234, half), "°") for half in (0.004, 0.04, 0.4, 4.0, 40.0)],
        [
            health_words(Health(frames=n, lost_frames=lost, bad_frames=bad), clipped)
            for n, lost, bad, clipped in ((900, 0, 0, 0.0), (900, 1, 0, 0.0), (900, 5, 7, 0.02))
        ],
        [air_words(a) for a in (Atmosphere(), Atmosphere(0.957, 31.0, True))],
        answer_json(drive_page(DRIVE), drive_figures(DRIVE)),
    ],
}


@pytest.mark.parametrize("name", CASES)
def test_a_page_is_the_one_kept(name: str) -> None:
    held(__file__, name, CASES)
