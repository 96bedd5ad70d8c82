"""Why marks are off: the right cause first, and no certainty where two remain."""

import numpy as np
import pytest

from strokewise.analysis.estimate import Interval
from strokewise.analysis.marks.mark_causes import CAUSE_DECIDED_AT, _slip_weights, weigh_causes
from strokewise.analysis.marks.mark_evidence import (
    CLAMP,
    CLAMP_PRIORS,
    CYLINDER,
    HALF,
    MARK_RIGHT,
    OTHER,
    POINTER,
    RING,
    STATIC,
)
from strokewise.analysis.marks.marks import place_mark, turns_at_half_speed
from strokewise.analysis.profile import CamDrive, DriveGear, Mark, Profile, even_intervals_deg
from strokewise.analysis.trace.marks_met import MarkPass, MarkSeen

NOTCH = Mark("pulley notch", 1, "pulley", 0.0)
SECOND = Mark("pulley line", 4, "pulley", -10.0)
WHEEL = Mark("flywheel line", 2, "flywheel", 0.0)
DOT = Mark("cam dot", 3, "cam sprocket", 0.0, "firing")
ROTOR = Mark("rotor", 5, "distributor", 0.0, "firing")
TDC = Interval(100.0, 99.8, 100.2)
TOOTH = 720 / 42


def engine(order=(1, 3, 4, 2), **more):
    return Profile(len(order), order, even_intervals_deg(len(order), 720), **more)


FOUR = engine(
    cam_drive=CamDrive(21, 42),
    drive_gear=DriveGear(10, 45, 25, 12, "right"),
    static_advance_btdc_deg=6.0,
)


def causes(late, profile=FOUR, passes=5, creep=0.0, phase=100.0, **options):
    """Weigh marks that are so many degrees late, each met a few times."""
    places = []
    for mark, late_deg in late.items():
        period = 720 if turns_at_half_speed(mark, profile) else 360
        start = 100.0 + mark.stated_atdc_deg + late_deg
        met = tuple(MarkPass(start + period * n + creep * n, True) for n in range(passes))
        places.append(place_mark(MarkSeen(mark, met, cell_deg=0.15), profile, TDC, phase))
    return weigh_causes(places, profile, **options)


def chance(result, cause):
    return sum(f.probability for f in result.findings if f.cause == cause)


def test_a_right_mark():
    result = causes({NOTCH: 0.4})
    assert result.decided
    assert result.findings[0].cause == MARK_RIGHT
    assert result.next_look == ""
    [place] = result.findings[0].places
    assert (round(place.late.low, 1), round(place.late.high, 1)) == (0.1, 0.7)


def test_a_pulley_off_by_any_amount_leaves_pointer_and_ring_open():
    result = causes({NOTCH: 25.0}, clamp="steady")
    assert not result.decided
    assert {f.cause for f in result.findings[:2]} == {POINTER, RING}
    assert chance(result, POINTER) < 0.6
    assert chance(result, RING) < 0.6
    assert result.next_look == "line across the pulley"


def test_a_ring_that_moves_while_watched_gives_itself_away():
    result = causes({NOTCH: 25.0, WHEEL: 0.0}, passes=8, clamp="steady")
    assert result.findings[0].cause in (POINTER, RING)
    places_moving = causes({NOTCH: 25.0}, passes=8, creep=1.0, clamp="steady")
    assert places_moving.findings[0].cause == RING
    assert places_moving.findings[0].probability > 0.95
    [place] = places_moving.findings[0].places
    assert place.drift.value == pytest.approx(4.0, abs=0.05)
    assert place.drift.low > 0


def test_an_older_reading_tells_ring_from_pointer():
    before = {"pulley notch": Interval(12.0, 11.7, 12.3)}
    slipped = causes({NOTCH: 25.0}, earlier_late=before, clamp="steady")
    assert slipped.findings[0].cause == RING
    assert slipped.decided
    same = causes({NOTCH: 25.0}, earlier_late={"pulley notch": Interval(25.1, 24.8, 25.4)})
    assert chance(same, POINTER) > chance(same, RING)


def test_marks_on_two_parts_off_alike_point_to_the_clamp():
    result = causes({NOTCH: 25.0, WHEEL: 25.2, DOT: 25.0})
    assert result.findings[0].cause == CLAMP
    assert result.decided
    # a single part can't show it
    alone = causes({NOTCH: 25.0})
    assert 0.02 < chance(alone, CLAMP) < 0.3
    clamp = next(f for f in alone.findings if f.cause == CLAMP)
    assert {place.mark.on for place in clamp.places} == {"pulley"}


def test_what_the_recording_says_of_the_clamp_counts():
    chances = [
        chance(causes({NOTCH: 25.0}, clamp=c), CLAMP) for c in ("steady", "unknown", "slipped")
    ]
    assert chances[0] < chances[1] < chances[2]


def test_another_cylinders_tdc():
    result = causes({NOTCH: 179.5}, clamp="steady")
    assert result.findings[0].cause == CYLINDER
    assert result.decided
    eight = engine((1, 8, 4, 3, 6, 5, 7, 2))
    assert causes({NOTCH: -90.2}, eight, clamp="steady").findings[0].cause == CYLINDER
    # a three has none at 180 degrees
    assert chance(causes({NOTCH: 180.0}, engine((1, 3, 2)), clamp="steady"), CYLINDER) < 0.01


def test_the_static_timing_mark_taken_for_tdc():
    result = causes({NOTCH: -6.1}, clamp="steady")
    assert result.findings[0].cause == STATIC
    unknown = causes({NOTCH: -6.1}, engine(), clamp="steady")
    assert chance(unknown, STATIC) == 0


@pytest.mark.parametrize("teeth", [-2, -1, 1, 2, 3])
def test_cam_teeth_from_the_cams_mark(teeth):
    result = causes({NOTCH: 0.1, DOT: teeth * TOOTH + 0.8}, clamp="steady")
    words = f"{abs(teeth)} {'tooth' if abs(teeth) == 1 else 'teeth'}"
    way = "late" if teeth > 0 else "early"
    assert result.findings[0].cause == f"cam sprocket {words} {way}"
    assert result.decided


def test_cam_tooth_from_pressure_alone():
    result = causes({NOTCH: 0.1}, cam_shift=Interval(17.0, 15.0, 19.0))
    assert result.findings[0].cause == "cam sprocket 1 tooth late"
    unsure = causes({NOTCH: 0.1}, cam_shift=Interval(9.0, 0.0, 18.0))
    assert not unsure.decided
    assert unsure.next_look == "count teeth"


def test_pressure_against_the_cams_mark_is_something_else():
    result = causes({NOTCH: 0.1, DOT: 0.0}, cam_shift=Interval(17.0, 16.0, 18.0), clamp="steady")
    assert result.findings[0].cause == OTHER


def test_cam_teeth_without_a_known_sprocket_are_less_sure():
    known = causes({NOTCH: 0.0, DOT: TOOTH})
    unknown = causes({NOTCH: 0.0, DOT: TOOTH}, engine())
    assert unknown.findings[0].cause == "cam sprocket 1 tooth late"
    tooth = "cam sprocket 1 tooth late"
    assert chance(unknown, tooth) < chance(known, tooth)


def test_half_a_turn():
    result = causes({NOTCH: 0.0, DOT: 360.5}, clamp="steady")
    assert result.findings[0].cause == HALF
    assert result.findings[0].marks == ("cam dot",)
    drive = causes({NOTCH: 0.0, DOT: 0.0, ROTOR: 358.0}, clamp="steady")
    assert (drive.findings[0].cause, drive.findings[0].marks) == (HALF, ("rotor",))


def test_half_a_turn_is_not_seen_without_the_phase():
    assert chance(causes({NOTCH: 0.0, DOT: 360.5}, phase=None), HALF) == 0


def test_the_drive_goes_with_the_cam():
    follows = causes({NOTCH: 0.0, DOT: TOOTH, ROTOR: TOOTH}, clamp="steady")
    assert follows.findings[0].cause == "cam sprocket 1 tooth late"
    assert not [f for f in follows.findings if f.cause.startswith("drive gear")]
    own = causes({NOTCH: 0.0, DOT: 0.0, ROTOR: 72.0}, clamp="steady")
    assert own.findings[0].cause == "drive gear 1 tooth late"


def test_two_faults_at_once():
    result = causes({NOTCH: 25.0, WHEEL: 0.0, DOT: TOOTH}, clamp="steady")
    assert result.findings[0].cause == "cam sprocket 1 tooth late"
    assert {f.cause for f in result.findings[1:3]} == {POINTER, RING}
    assert not result.decided


def test_marks_of_one_part_that_disagree_are_weighed_apart():
    result = causes({NOTCH: 0.0, SECOND: 30.0}, clamp="steady")
    assert all(f.marks == ("pulley line",) for f in result.findings[:2])
    together = causes({NOTCH: 30.0, SECOND: 30.3}, clamp="steady")
    assert together.findings[0].marks == ("pulley notch", "pulley line")


def test_on_the_edge_of_right_it_is_not_sure():
    result = causes({NOTCH: 3.3}, clamp="steady")
    assert not result.decided
    assert result.findings[0].probability < CAUSE_DECIDED_AT
    assert result.next_look == "fixing"


def test_nothing_measured_no_findings():
    assert weigh_causes([], FOUR).findings == ()
    silent = place_mark(MarkSeen(Mark("paint"), (MarkPass(3.0, True),)), FOUR, TDC, 100.0)
    assert weigh_causes([silent], FOUR).findings == ()


def test_probabilities_of_one_part_add_up():
    """Right, its own faults and a slipped clamp share one whole, but for the too small to show."""
    for late in (0.5, 3.0, 6.0, 40.0, 180.0):
        result = causes({NOTCH: late})
        pulley = sum(f.probability for f in result.findings if f.cause != CLAMP)
        assert 0.95 - chance(result, CLAMP) <= pulley <= 1 + 1e-9


def test_stated_probabilities_hold_when_causes_are_drawn_from_the_priors():
    """Calibration: what is called 90 % sure must be right about that often."""
    random = np.random.default_rng(11)
    called, right = [], []
    for _ in range(400):
        cause = random.choice([MARK_RIGHT, "any", CYLINDER, STATIC], p=[0.72, 0.20, 0.05, 0.03])
        target = {MARK_RIGHT: 0.0, "any": random.uniform(-180, 180), CYLINDER: 180.0, STATIC: -6.0}[
            cause
        ]
        late = target + (random.normal(0, 1.0) if cause != "any" else 0.0)
        result = causes({NOTCH: late}, clamp="steady")
        said = chance(result, MARK_RIGHT)
        called.append(said)
        right.append(cause == MARK_RIGHT)
    called, right = np.array(called), np.array(right)
    for low, high in ((0.0, 0.1), (0.9, 1.01)):
        inside = (called >= low) & (called < high)
        assert inside.sum() > 50
        share = right[inside].mean()
        assert abs(share - called[inside].mean()) < 0.05


@pytest.mark.parametrize(("late", "options", "kept"), [
    ({NOTCH: 0.4}, {}, {(MARK_RIGHT, ()): 0.9975}),
    ({NOTCH: 1.9, DOT: -0.6}, {}, {
        (MARK_RIGHT, ()): 0.98677, (POINTER, ("pulley notch",)): 0.00585,
        (RING, ("pulley notch",)): 0.00585,
    }),
    ({NOTCH: -9.0}, {}, {
        (POINTER, ("pulley notch",)): 0.34123, (RING, ("pulley notch",)): 0.34123,
        (STATIC, ("pulley notch",)): 0.17172, (CLAMP, ()): 0.1028,
        (OTHER, ("pulley notch",)): 0.06825, (CYLINDER, ("pulley notch",)): 0.00517,
    }),
    ({NOTCH: 17.3, DOT: 17.1}, {}, {
        (CLAMP, ()): 0.58402, ("cam sprocket 1 tooth late", ("cam dot",)): 0.41488,
        (POINTER, ("pulley notch",)): 0.19057, (RING, ("pulley notch",)): 0.19057,
        (OTHER, ("pulley notch",)): 0.03811,
    }),
    ({NOTCH: -12.0, WHEEL: -11.8, SECOND: -12.1}, {"clamp": "slipped"}, {(CLAMP, ()): 0.9997}),
    ({NOTCH: 6.1, WHEEL: 0.2, ROTOR: 55.0}, {"clamp": "steady"}, {
        ("cam sprocket 3 teeth late", ()): 0.49975, (POINTER, ("pulley notch",)): 0.45448,
        (RING, ("pulley notch",)): 0.45448, ("cam sprocket 1 tooth early", ()): 0.39639,
        ("drive gear 1 tooth late", ("rotor",)): 0.39177, (OTHER, ("rotor",)): 0.10902,
        (OTHER, ("pulley notch",)): 0.090896, ("cam sprocket 1 tooth late", ()): 0.0054515,
    }),
    ({NOTCH: 8.0}, {"earlier_late": {"pulley notch": Interval(1.0, 0.7, 1.3)}}, {
        (RING, ("pulley notch",)): 0.78588, (CLAMP, ()): 0.2377,
        (POINTER, ("pulley notch",)): 0.023576, (CYLINDER, ("pulley notch",)): 0.011912,
        (STATIC, ("pulley notch",)): 0.0071473,
    }),
])  # fmt: skip
def test_no_weight_moves_unseen(late, options, kept):
    """Priors and sigmas are guesses, weighed together: one that moves makes another cause lead."""
    found = {
        (each.cause, each.marks): each.probability for each in causes(late, **options).findings
    }
    assert found == {key: pytest.approx(chance, rel=2e-3) for key, chance in kept.items()}


def test_intervals_printed_roughly_do_not_make_the_companion_another_cylinder():
    """Cylinder 4 fires 359.6° after cylinder 1 by the profile: its TDC is cylinder 1's."""
    rough = Profile(4, (1, 3, 4, 2), (179.8, 179.8, 180.2, 180.2))
    assert chance(causes({NOTCH: 0.3}, rough), CYLINDER) == 0.0
    assert chance(causes({NOTCH: 179.7}, rough), CYLINDER) > 0.1


def test_half_a_turn_out_does_not_shift_the_cam_that_pressure_shows():
    """The mark stands a whole turn off; a cam a tooth late by pressure is another fault."""
    right = causes({DOT: 360.0}, cam_shift=Interval(0.3, -1.5, 2.1))
    assert chance(right, HALF) > 0.8
    late = causes({DOT: 360.0}, cam_shift=Interval(TOOTH, TOOTH - 1.5, TOOTH + 1.5))
    assert chance(late, HALF) < 0.1


@pytest.mark.parametrize("teeth", [-3, -2, -1, 1, 2, 3])
def test_pressure_and_dot_agree_on_the_number_of_teeth(teeth):
    """A cam put right by another number of teeth than it is out bends valves."""
    late = teeth * TOOTH
    shift = Interval(late + 0.4, late - 1.6, late + 2.4)
    result = causes({NOTCH: 0.1, DOT: late + 0.3}, cam_shift=shift, clamp="steady")
    count = f"{abs(teeth)} {'tooth' if abs(teeth) == 1 else 'teeth'}"
    named = f"cam sprocket {count} {'late' if teeth > 0 else 'early'}"
    assert result.decided
    assert result.findings[0].cause == named
    # a pressure that says one tooth less takes the certainty away
    other = shift.shifted(-TOOTH if teeth > 0 else TOOTH)
    assert chance(causes({NOTCH: 0.1, DOT: late + 0.3}, cam_shift=other), named) < 0.05


@pytest.mark.parametrize(("clamp", "held"), [
    (clamp, 1 - slipped) for clamp, slipped in CLAMP_PRIORS.items()
])  # fmt: skip
def test_a_clamp_held_or_slipped_by_something_and_nothing_else(clamp, held):
    slips = np.array([0.0, -2.0, -1.0, 1.0, 2.0])
    weights = _slip_weights(slips, clamp)
    assert weights[0] == pytest.approx(held)
    assert weights[1:] == pytest.approx([(1 - held) / 4] * 4)
