"""``strokewise marks``, every word of it: early taken for late, the timing is set twice as far out.

The recording's notch stands 17° after TDC of cylinder 1, its cam dot on it; what they state is put
so that the one is early and the other late, by different amounts.
"""

from dataclasses import replace
from pathlib import Path

import pytest

from strokewise.analysis.estimate import Interval
from strokewise.gui.pages.headline import AFTER, off_words, sided_apart
from strokewise.gui.sayings import as_said

RECORDING = str(Path(__file__).parents[4] / "recordings" / "marks-that-lie.swr")
STEP = [
    "Turning the engine by hand",
    "Timing not proven (a rebuild, or a moved cam drive)",
    "Turning back",
    "First of all",
]


def restated(known, notch_deg, dot_deg, **dot):
    profile = known[0].profile
    stated = {"pulley notch": notch_deg, "cam dot": dot_deg}
    marks = tuple(
        replace(
            mark,
            stated_atdc_deg=stated[mark.name],
            **(dot if mark.name == "cam dot" else {}),
        )
        for mark in profile.marks
    )
    known[0] = replace(known[0], profile=replace(profile, marks=marks))


def between(interval):
    return Interval(interval["value"], interval["low"], interval["high"])


def late_by(interval, unit="°", most=1):
    """A value and its interval with the words of its side."""
    return off_words(between(interval), unit=unit, most=most)


def percent(share):
    return "over 99.9 %" if share > 0.9995 else f"{100 * share:.1f} %"


def test_early_and_late_each_by_its_own_amount(known, page, told, reads):
    restated(known, 22.0, -8.0)
    answer, said = told("marks", RECORDING), page("marks", RECORDING)
    notch, dot = answer["marks"]
    assert notch["after_tdc"]["value"] == pytest.approx(17.0, abs=0.6)
    assert notch["late"]["value"] == pytest.approx(-5.0, abs=0.6)
    assert dot["after_tdc"]["value"] == pytest.approx(0.0, abs=0.6)
    assert dot["late"]["value"] == pytest.approx(8.0, abs=0.6)
    assert notch["late_rim_mm"]["value"] == pytest.approx(-5.0 * 78 * 3.1416 / 180, abs=1.0)
    for mark in (notch, dot):
        assert mark["late"]["low"] < mark["late"]["value"] < mark["late"]["high"]
    early, late = late_by(notch["late"]), late_by(dot["late"])
    assert (" early (" in early, " late (" in late) == (True, True)
    headline = f"Pulley notch {early}, cam dot {late}."
    begins = said.plain.index("Pulley notch")
    assert said.plain.startswith("Cam dot does not go with the cam that pressure shows")
    reads(said.plain[begins : begins + len(headline)], headline)
    at, at_ends = sided_apart(between(notch["after_tdc"]), AFTER, most=1)
    assert at.endswith(" after")
    reads(
        said.facts["pulley notch"],
        f"meets its pointer {at} TDC of cylinder 1 ({at_ends}), on both turns; {early} against what"
        f" it states; on the rim {late_by(notch['late_rim_mm'], ' mm')};"
        f" {late_by(notch['late_flywheel_teeth'], ' flywheel teeth', 2)}",
    )
    at, at_ends = sided_apart(between(dot["after_tdc"]), AFTER, most=1)
    at = f"{at} TDC" if at.endswith(AFTER) else "at TDC"
    reads(
        said.facts["cam dot"],
        f"meets its pointer {at} of cylinder 1 ({at_ends}), on the firing turn of cylinder 1;"
        f" cylinder 1 fires there; {late} against what it states;"
        f" {late_by(dot['late_cam_teeth'], ' sprocket teeth', 2)}",
    )
    assert (said.warnings, said.cautions) == ([], STEP)


def test_causes_with_the_figures_that_speak_for_them(known, page, told, reads):
    restated(known, 22.0, -17.14)
    answer, said = told("marks", RECORDING), page("marks", RECORDING)
    notch, dot = (mark["late"] for mark in answer["marks"])
    early, late = f"pulley notch is {late_by(notch)}", f"cam dot is {late_by(dot)}"
    because = {finding["cause"]: finding["because"] for finding in answer["findings"]}
    shift = told("cam", RECORDING)["shift"]
    reads(
        because["dot, pointer or sprocket for another engine"],
        f"{late}; from pressure the cam is {late_by(shift)}; it does not go with the cam that"
        " pressure shows, and tells nothing of it",
    )
    reads(
        because["outer ring of the pulley slipped"],
        f"{early}; a slipped ring can be off by any amount, and may go on moving; this one did not"
        " while it was watched",
    )
    reads(
        because["pointer or pulley for another engine"],
        f"{early}; another pointer or pulley can be off by any amount, the same every time",
    )
    for finding in answer["findings"]:
        if finding["part"] not in ("pulley", "cam sprocket") or finding["probability"] < 0.02:
            continue
        about = f" ({', '.join(finding['marks'])})"
        reads(
            said.facts[percent(finding["probability"])],
            f"{finding['part']}: {finding['cause']}{about}: {finding['because']}",
        )
    assert "Causes, part by part, the most probable first" in said.body
    assert said.plain.endswith(f"What would tell: {answer['next_look']}")


@pytest.mark.parametrize(
    ("turning_back", "caution"),
    [("never", "Never turn back"), (None, "Turning back, nobody said")],
)
def test_whether_it_may_be_turned_back(known, page, turning_back, caution):
    profile = replace(known[0].profile, turning_back=turning_back)
    known[0] = replace(known[0], profile=profile)
    assert page("marks", RECORDING).cautions == [*STEP[:2], caution, STEP[3]]


def test_the_trap_of_a_cam_mark_at_overlap(known, page, told):
    """With cylinder 1's firing TDC a turn on, the dot lines up where cylinder 4 fires."""
    verdict = known[0].verdict
    moved = {cylinder: (angle + 360) % 720 for cylinder, angle in verdict.firing_deg.items()}
    known[0] = replace(known[0], verdict=replace(verdict, firing_deg=moved))
    answer, said = told("marks", RECORDING), page("marks", RECORDING)
    dot = answer["marks"][1]
    assert (dot["turn"], dot["firing_cylinder"]) == ("overlap", 4)
    assert "mark set at the overlap TDC" in [each["cause"] for each in answer["findings"]]
    assert (
        ", on the overlap turn of cylinder 1; here cylinder 1 is at overlap and cylinder 4 is at"
        " firing TDC: a drive gear (ignition or injection) set here for cylinder 1 would be half a"
        " turn out; "
    ) in said.facts["cam dot"]
    assert "cylinder 4 fires there" not in said.facts["cam dot"]


def test_a_mark_that_is_right_has_no_side_and_is_no_more_exact_than_its_interval(known, page, told):
    stated = told("marks", RECORDING)["marks"][1]["after_tdc"]["value"]
    restated(known, 0.0, stated, turn="both")
    dot = told("marks", RECORDING)["marks"][1]["late"]
    reach = max(-dot["low"], dot["high"])
    said = f"; right within {reach:.1f}° against what it states"
    assert said in page("marks", RECORDING).facts["cam dot"]


def test_read_off_before_tdc(known, page, told, reads):
    """What somebody read off 5° before TDC is neither after it nor measured in the rim's mm."""
    tdc = known[0].tdc_1.value
    words = ("marks", RECORDING, *(f"--stated=chalk={tdc - 5:.3f}" for _ in range(3)))
    chalk = told(*words)["marks"][2]
    assert chalk["after_tdc"]["value"] == pytest.approx(-5.0, abs=0.01)
    assert (chalk["late"], chalk["turn"], chalk["seen"]) == (None, "both", 3)
    low, high = -chalk["after_tdc"]["high"], -chalk["after_tdc"]["low"]
    reads(
        page(*words).facts["chalk"],
        f"meets its pointer 5.0° before TDC of cylinder 1 ({low:.1f} to {high:.1f}), on both turns",
    )


def test_what_is_to_be_known_beside_it_is_said(known, page):
    tdc = known[0].tdc_1.value
    said = page("marks", RECORDING, f"--stated=chalk={tdc - 5:.3f}")
    assert said.warnings == [
        "Chalk: pressed 1 time; creep up from the same side and press three times or more."
    ]


def test_without_tdc(known, page):
    verdict = replace(
        known[0].verdict, decided=False, tdc=None, firing_deg=None, reason=as_said("turn on")
    )
    known[0] = replace(known[0], verdict=verdict)
    said = page("marks", RECORDING, code=3)
    assert said.body == "NOT SURE. TDC is not found: turn on."
    assert said.cautions == STEP


def test_a_sensor_in_a_cylinder_that_fires_a_third_of_a_turn_off(known, told):
    """Of a triple 1-3-2: the TDC found is cylinder 3's, and cylinder 1's lies 240° before it.

    That is 120° after, on either of its two turns; a notch 17° past the one is 103° before the
    other. Forward for back, every mark of the engine would be 120° out.
    """
    profile = replace(
        known[0].profile,
        cylinders=3,
        firing_order=(1, 3, 2),
        firing_intervals_deg=(240.0, 240.0, 240.0),
    )
    verdict = known[0].verdict
    tdc = replace(verdict.tdc, cylinder=3)
    first = (verdict.firing_deg[1] - 240.0) % 720.0
    firing = {1: first, 3: verdict.firing_deg[1], 2: (first + 480.0) % 720.0}
    known[0] = replace(
        known[0], profile=profile, verdict=replace(verdict, tdc=tdc, firing_deg=firing)
    )
    notch, dot = told("marks", RECORDING)["marks"]
    assert notch["after_tdc"]["value"] == pytest.approx(17.0 - 120.0, abs=0.6)
    assert (dot["turn"], dot["firing_cylinder"]) == ("overlap", 3)
