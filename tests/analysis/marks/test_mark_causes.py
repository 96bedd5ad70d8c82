"""Why marks are off: the right cause first, and no certainty where two remain."""

import numpy as np
import pytest

from strokewise.analysis.estimate import Z_95, Interval
from strokewise.analysis.marks.cam_evidence import ShiftChance, chance_of, shift_grid
from strokewise.analysis.marks.mark_causes import CAUSE_DECIDED_AT, weigh_causes
from strokewise.analysis.marks.mark_evidence import (
    CLAMP,
    CLAMP_HELD,
    CYLINDER,
    FOREIGN,
    HALF,
    HELD_SINCE,
    MARK_RIGHT,
    ON_TOOTH,
    OTHER,
    POINTER,
    REORDERED,
    RING,
    STATIC,
    agreeing,
)
from strokewise.analysis.marks.marks import MarkPlace, place_mark, turns_at_half_speed
from strokewise.analysis.marks.rig_states import CLAMP_PRIORS, ORDER_OTHER, Sensed, rig_states
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


def causes(late, profile=FOUR, passes=5, creep=0.0, phase=100.0, cam_shift=None, **options):
    """Weigh marks that are so many degrees late, each met a few times."""
    if cam_shift is not None:
        options["seen"] = chance_of(cam_shift)
    places = []
    for mark, late_deg in late.items():
        period = 720 if turns_at_half_speed(mark, profile) else 360
        start = 100.0 + mark.stated_atdc_deg + late_deg
        met = tuple(MarkPass(start + period * n + creep * n, True) for n in range(passes))
        places.append(place_mark(MarkSeen(mark, met, cell_deg=0.15), profile, TDC, phase))
    return weigh_causes(places, profile, **options)


def chance(result, cause, part=None):
    return sum(
        f.probability for f in result.findings if f.cause == cause and part in (None, f.part)
    )


def leading(result):
    """The most probable cause of every part."""
    return {f.part: f.cause for f in result.leading}


PRESSURE_RIGHT = Interval(0.2, -1.8, 2.2)


def test_a_right_mark():
    result = causes({NOTCH: 0.4})
    assert result.decided
    assert leading(result) == {"encoder": CLAMP_HELD, "pulley": MARK_RIGHT}
    assert result.next_look == ""
    [place] = result.of("pulley")[0].places
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
    assert leading(result)["pulley"] == leading(result)["flywheel"] == MARK_RIGHT
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
    """A dot alone ranks the tooth first, but a dot of another engine would stand there too."""
    result = causes({NOTCH: 0.1, DOT: teeth * TOOTH + 0.8}, clamp="steady")
    words = f"{abs(teeth)} {'tooth' if abs(teeth) == 1 else 'teeth'}"
    way = "late" if teeth > 0 else "early"
    assert leading(result)["cam"] in (f"cam sprocket {words} {way}", ON_TOOTH)
    if abs(teeth) < 3:
        assert leading(result)["cam"] == f"cam sprocket {words} {way}"
    assert not result.decided
    assert result.next_look == "count teeth"
    assert chance(result, FOREIGN) > 0.02


def test_cam_tooth_from_pressure_alone():
    result = causes({NOTCH: 0.1}, cam_shift=Interval(17.0, 15.0, 19.0))
    assert result.findings[0].cause == "cam sprocket 1 tooth late"
    assert result.teeth[0] == 1
    unsure = causes({NOTCH: 0.1}, cam_shift=Interval(9.0, 0.0, 18.0))
    assert not unsure.decided
    assert unsure.next_look == "count teeth"


@pytest.mark.parametrize("apes", [TOOTH, -TOOTH, TOOTH / 2, 40.0])
def test_a_dot_of_another_engine_is_no_late_cam(apes):
    """Pressure shows the cam right; someone would move a sprocket that was right."""
    result = causes({NOTCH: 0.1, DOT: apes}, cam_shift=PRESSURE_RIGHT, clamp="steady")
    assert leading(result)["cam sprocket"] == FOREIGN
    assert leading(result)["cam"] == ON_TOOTH
    assert result.teeth[0] == 0
    assert result.decided
    assert chance(result, "cam sprocket 1 tooth late") < 0.01


def test_a_dot_of_another_engine_does_not_turn_an_early_cam_round():
    early = Interval(-TOOTH, -TOOTH - 2.0, -TOOTH + 2.0)
    result = causes({NOTCH: 0.1, DOT: TOOTH}, cam_shift=early, clamp="steady")
    assert result.findings[0].cause == "cam sprocket 1 tooth early"
    assert leading(result)["cam sprocket"] == FOREIGN
    assert (result.teeth[0], result.decided) == (-1, True)


def test_cam_teeth_without_a_known_sprocket_are_less_sure():
    known = causes({NOTCH: 0.0, DOT: TOOTH})
    unknown = causes({NOTCH: 0.0, DOT: TOOTH}, engine())
    assert unknown.findings[0].cause == "cam sprocket 1 tooth late"
    tooth = "cam sprocket 1 tooth late"
    assert chance(unknown, tooth) < chance(known, tooth)
    assert {f.part for f in known.findings} == {"pulley", "encoder", "cam", "cam sprocket"}


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
    late = Interval(TOOTH, TOOTH - 2.0, TOOTH + 2.0)
    result = causes({NOTCH: 25.0, WHEEL: 0.0, DOT: TOOTH}, clamp="steady", cam_shift=late)
    assert result.findings[0].cause == "cam sprocket 1 tooth late"
    assert {f.cause for f in result.of("pulley")[:2]} == {POINTER, RING}
    assert not result.decided


def test_marks_of_one_part_that_disagree_accuse_one_of_them():
    result = causes({NOTCH: 0.0, SECOND: 30.0}, clamp="steady")
    assert all(f.marks == ("pulley line",) for f in result.findings[:2])
    assert sum(f.probability for f in result.of("pulley")) == pytest.approx(1.0)
    dots = {DOT: 0.0, Mark("cam line", 6, "cam sprocket", 0.0, "firing"): 40.0}
    apart = causes(dots, cam_shift=PRESSURE_RIGHT, clamp="steady")
    [first, *_] = apart.of("cam sprocket")
    assert (first.cause, first.marks) == (FOREIGN, ("cam line",))
    together = causes({NOTCH: 30.0, SECOND: 30.3}, clamp="steady")
    assert together.findings[0].marks == ("pulley notch", "pulley line")


def test_on_the_edge_of_right_it_is_not_sure():
    result = causes({NOTCH: 3.3}, clamp="steady")
    assert not result.decided
    assert result.of("pulley")[0].probability < CAUSE_DECIDED_AT
    assert result.next_look == "fixing"


def test_nothing_measured_no_findings():
    assert weigh_causes([], FOUR).findings == ()
    silent = place_mark(MarkSeen(Mark("paint"), (MarkPass(3.0, True),)), FOUR, TDC, 100.0)
    assert weigh_causes([silent], FOUR).findings == ()


@pytest.mark.parametrize("late", [0.5, 3.0, 6.0, 40.0, 180.0])
def test_the_probabilities_of_each_part_add_up_to_one(late):
    marks = {NOTCH: late, WHEEL: late, DOT: late, ROTOR: 5.0, SECOND: 0.3}
    result = causes(marks, cam_shift=PRESSURE_RIGHT, sensed=Sensed(1))
    parts = {f.part for f in result.findings}
    assert parts == {
        "pulley", "flywheel", "cam sprocket", "distributor", "cam", "sensor", "encoder",
    }  # fmt: skip
    for part in parts:
        assert sum(f.probability for f in result.of(part)) == pytest.approx(1.0, abs=1e-9)


def test_a_sensor_in_another_cylinder_puts_every_mark_off_alike():
    """Sensed in 3 and stated as 1: compression comes half a turn after it was taken for."""
    result = causes({NOTCH: 180.0, DOT: -180.0}, cam_shift=PRESSURE_RIGHT, clamp="steady",
                    sensed=Sensed(1))  # fmt: skip
    assert result.findings[0].cause == "sensor in cylinder 3, not in 1"
    assert result.findings[0].probability > 0.9
    assert leading(result)["pulley"] == leading(result)["cam sprocket"] == MARK_RIGHT
    unsaid = causes({NOTCH: 180.0, DOT: -180.0}, cam_shift=PRESSURE_RIGHT, clamp="steady")
    assert unsaid.of("sensor") == ()
    # 2 fires half a turn before
    other = causes({NOTCH: 180.0, DOT: 180.0}, cam_shift=PRESSURE_RIGHT, sensed=Sensed(1))
    assert other.findings[0].cause == "sensor in cylinder 2, not in 1"


def test_no_cylinder_is_named_more_surely_than_the_order_it_rests_on():
    """In 3 of an engine that fires 1 2 4 3, stated to fire 1 3 4 2, it was "in 2" for sure."""
    marks = {NOTCH: 180.0, DOT: 180.0, WHEEL: 180.0, ROTOR: 180.0, SECOND: 180.0}
    result = causes(marks, cam_shift=PRESSURE_RIGHT, clamp="steady", sensed=Sensed(1))
    first = result.findings[0]
    assert first.cause == "sensor in cylinder 2, not in 1"
    assert CAUSE_DECIDED_AT < first.probability < 0.985
    assert chance(result, REORDERED) == pytest.approx(1.4 * ORDER_OTHER, rel=0.1)


@pytest.mark.parametrize(
    ("order", "slots"),
    [((1, 2), {}), ((1, 2, 3), {2: {240.0: 1.0}, 3: {-240.0: 1.0}}),
     ((1, 3, 4, 2), {3: {-180.0: 0.2, 360.0: 0.4, 180.0: 0.4}})],
)  # fmt: skip
def test_in_another_order_a_cylinder_lies_where_the_other_orders_put_it(order, slots):
    """Counted by hand: of five other orders of four cylinders one leaves 3 where it is."""
    states = rig_states(engine(order), "steady", Sensed(1))
    assert states.reordered.any() == bool(slots)
    for cylinder, expected in slots.items():
        own = states.reordered & (states.cylinder == cylinder)
        weight = np.exp(states.log_prior[own])
        found = dict(zip(states.moved_deg[own].tolist(), weight / weight.sum(), strict=True))
        assert found == pytest.approx(expected)


def test_a_sensor_where_it_was_stated_and_another_order_alone_put_every_mark_off():
    """Sensed in 3 as stated, which fires second, in its own place, or third or last."""
    states = rig_states(FOUR, "steady", Sensed(3))
    own = states.reordered & (states.cylinder == 0)
    assert set(states.moved_deg[own].tolist()) == {0.0, -180.0, 360.0}


def test_half_a_turn_out_and_a_sensor_counted_from_the_wrong_end_look_alike():
    """Cylinder 4 moves with cylinder 1: no figure tells, so neither is called certain."""
    result = causes({NOTCH: 0.0, DOT: 360.0}, cam_shift=PRESSURE_RIGHT, clamp="steady",
                    sensed=Sensed(1))  # fmt: skip
    assert result.findings[0].cause == HALF
    assert result.findings[0].probability < CAUSE_DECIDED_AT
    assert chance(result, "sensor in cylinder 4, not in 1") > 0.05
    sure = causes({NOTCH: 0.0, DOT: 360.0}, cam_shift=PRESSURE_RIGHT, clamp="steady",
                  sensed=Sensed(1, "agreed"))  # fmt: skip
    assert chance(sure, HALF) > CAUSE_DECIDED_AT


def test_an_earlier_look_with_the_sensor_where_it_was_stated():
    """What moved between the two looks is the sensor, and no ring."""
    before = {"pulley notch": Interval(0.2, -0.4, 0.8)}
    result = causes({NOTCH: 180.0, DOT: -180.0}, cam_shift=PRESSURE_RIGHT, clamp="steady",
                    sensed=Sensed(1), earlier_late=before)  # fmt: skip
    assert result.findings[0].cause == "sensor in cylinder 3, not in 1"
    assert leading(result)["pulley"] == MARK_RIGHT


def test_a_clamp_that_slipped_before_is_said_and_moves_no_mark():
    result = causes({NOTCH: 0.2, DOT: 0.1}, clamp="held since")
    assert leading(result)["encoder"] == HELD_SINCE
    assert leading(result)["pulley"] == MARK_RIGHT
    assert result.decided


def test_a_shift_that_fits_no_tooth_is_of_no_tooth():
    between = Interval(TOOTH / 2, TOOTH / 2 - 1.0, TOOTH / 2 + 1.0)
    result = causes({NOTCH: 0.1}, cam_shift=between)
    assert result.teeth[1] < 0.95
    assert chance(result, OTHER, "cam") > 0.1


def test_pressures_own_likelihood_is_weighed_as_it_stands():
    """Two humps, one for each of two teeth: a dot on one of them settles it."""
    grid = shift_grid()
    humps = sum(np.exp(-0.5 * ((grid - at) / 1.5) ** 2) for at in (0.0, TOOTH))
    seen = ShiftChance(grid, humps)
    assert causes({NOTCH: 0.0}, seen=seen).teeth[1] < 0.95
    assert causes({NOTCH: 0.0, DOT: 0.3}, seen=seen).teeth == (0, pytest.approx(1.0, abs=0.01))


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


@pytest.mark.parametrize(
    ("late", "options", "kept"),
    [
        ({NOTCH: 0.4}, {}, {("encoder", CLAMP_HELD): 0.99987, ("pulley", MARK_RIGHT): 0.99752}),
        (
            {NOTCH: 1.9, DOT: -0.6},
            {},
            {
                ("encoder", CLAMP_HELD): 0.99962,
                ("cam sprocket", MARK_RIGHT): 0.99301,
                ("cam sprocket", FOREIGN): 0.0069173,
                ("cam", ON_TOOTH): 0.98961,
                ("cam", OTHER): 0.0093683,
                ("pulley", MARK_RIGHT): 0.98713,
                ("pulley", POINTER): 0.005847,
                ("pulley", RING): 0.005847,
            },
        ),
        (
            {NOTCH: -9.0},
            {},
            {
                ("pulley", POINTER): 0.34122,
                ("pulley", RING): 0.34122,
                ("pulley", STATIC): 0.1718,
                ("pulley", MARK_RIGHT): 0.072359,
                ("pulley", OTHER): 0.068243,
                ("pulley", CYLINDER): 0.0051685,
                ("encoder", CLAMP_HELD): 0.89718,
                ("encoder", CLAMP): 0.10282,
            },
        ),
        (
            {NOTCH: 17.3, DOT: 17.1},
            {},
            {
                ("encoder", CLAMP): 0.54472,
                ("encoder", CLAMP_HELD): 0.45528,
                ("cam sprocket", MARK_RIGHT): 0.95846,
                ("cam sprocket", FOREIGN): 0.041088,
                ("cam", ON_TOOTH): 0.56752,
                ("cam", "cam sprocket 1 tooth late"): 0.40875,
                ("cam", OTHER): 0.019385,
                ("pulley", MARK_RIGHT): 0.5368,
                ("pulley", POINTER): 0.20926,
                ("pulley", RING): 0.20926,
                ("pulley", OTHER): 0.041852,
            },
        ),
        (
            {NOTCH: -12.0, WHEEL: -11.8, SECOND: -12.1},
            {"clamp": "slipped"},
            {
                ("encoder", CLAMP): 0.99,
                ("encoder", CLAMP_HELD): 0.01,
                ("pulley", MARK_RIGHT): 0.99189,
                ("flywheel", MARK_RIGHT): 0.99503,
            },
        ),
        (
            {NOTCH: 6.1, WHEEL: 0.2, ROTOR: 55.0},
            {"clamp": "steady"},
            {
                ("cam", "cam sprocket 1 tooth early"): 0.41737,
                ("cam", "cam sprocket 3 teeth late"): 0.38468,
                ("cam", ON_TOOTH): 0.12635,
                ("cam", OTHER): 0.055858,
                ("cam", "cam sprocket 1 tooth late"): 0.0084034,
                ("distributor", "drive gear 1 tooth late"): 0.44312,
                ("distributor", MARK_RIGHT): 0.41229,
                ("distributor", "rotor, mark or pointer for another engine"): 0.086628,
                ("distributor", OTHER): 0.057752,
                ("pulley", POINTER): 0.45448,
                ("pulley", RING): 0.45448,
                ("pulley", OTHER): 0.090896,
                ("encoder", CLAMP_HELD): 0.99985,
                ("flywheel", MARK_RIGHT): 0.99929,
            },
        ),
        (
            {NOTCH: 8.0},
            {"earlier_late": {"pulley notch": Interval(1.0, 0.7, 1.3)}},
            {
                ("pulley", RING): 0.78598,
                ("pulley", MARK_RIGHT): 0.16668,
                ("pulley", POINTER): 0.023579,
                ("pulley", CYLINDER): 0.011905,
                ("pulley", STATIC): 0.0071433,
                ("encoder", CLAMP_HELD): 0.7624,
                ("encoder", CLAMP): 0.2376,
            },
        ),
        (
            {NOTCH: 180.0, DOT: 180.0},
            {"sensed": Sensed(1)},
            {
                ("sensor", "sensor in cylinder 2, not in 1"): 0.88364,
                ("sensor", "sensor in cylinder 3, not in 1"): 0.0543,
                ("sensor", "sensor in the cylinder stated"): 0.035139,
                ("sensor", REORDERED): 0.0268,
                ("encoder", CLAMP_HELD): 0.97653,
                ("encoder", CLAMP): 0.023469,
                ("cam sprocket", MARK_RIGHT): 0.93059,
                ("cam sprocket", HALF): 0.055937,
                ("cam sprocket", FOREIGN): 0.012435,
                ("cam", ON_TOOTH): 0.98864,
                ("cam", OTHER): 0.0093755,
                ("pulley", MARK_RIGHT): 0.98591,
                ("pulley", CYLINDER): 0.011436,
            },
        ),
        (
            {NOTCH: 0.2, DOT: TOOTH},
            {"cam_shift": PRESSURE_RIGHT},
            {
                ("cam sprocket", FOREIGN): 0.98779,
                ("cam sprocket", OTHER): 0.010902,
                ("encoder", CLAMP_HELD): 0.99963,
                ("cam", ON_TOOTH): 0.98996,
                ("cam", OTHER): 0.0090147,
                ("pulley", MARK_RIGHT): 0.99741,
            },
        ),
    ],
)
def test_no_weight_moves_unseen(late, options, kept):
    """Priors and sigmas are guesses, weighed together: one that moves makes another cause lead."""
    found = {
        (each.part, each.cause): each.probability
        for each in causes(late, **options).findings
        if each.probability >= 0.005
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
    assert leading(late)["cam sprocket"] == FOREIGN
    assert leading(late)["cam"] == "cam sprocket 1 tooth late"
    assert chance(late, HALF) < 0.2  # the shift that somebody states may be wrong altogether


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


@pytest.mark.parametrize(("clamp", "slipped"), CLAMP_PRIORS.items())
def test_a_clamp_held_or_slipped_by_something_and_nothing_else(clamp, slipped):
    states = rig_states(FOUR, clamp, Sensed(1))
    priors = np.exp(states.log_prior)
    assert priors.sum() == pytest.approx(1.0)
    assert priors[states.slipped].sum() == pytest.approx(slipped)
    assert (states.moved_deg[0], states.slipped[0], states.cylinder[0]) == (0.0, False, 0)
    assert priors[states.reordered].sum() == pytest.approx((1 - slipped) * ORDER_OTHER)
    in_order = ~states.reordered
    moved = dict(
        zip(states.cylinder[in_order].tolist(), states.moved_deg[in_order].tolist(), strict=True)
    )
    assert {number: moved[number] for number in (2, 3, 4)} == {2: 180.0, 3: -180.0, 4: 360.0}


def test_in_a_manifold_no_cylinder_can_be_mistaken():
    assert not rig_states(FOUR, "steady", None).cylinder.any()


@pytest.mark.parametrize(("sigmas", "groups"), [(2.9, 1), (3.1, 2), (-2.9, 1), (-3.1, 2)])
def test_two_marks_of_a_part_are_alike_within_what_chance_parts_one_in_four_hundred(sigmas, groups):
    """Taken together they share one cause: a ring that slipped needs a mark that did not."""
    own_deg, right_deg = 0.5, 1.0  # of each as it was met, and of a mark that is right
    apart_deg = sigmas * np.sqrt(2 * (own_deg**2 + right_deg**2))
    half_deg = Z_95 * own_deg
    places = [
        MarkPlace(mark, 5, late=Interval(late, late - half_deg, late + half_deg))
        for mark, late in ((NOTCH, 179.0), (SECOND, 179.0 + apart_deg - 360.0))
    ]
    assert len(agreeing(places, 360.0)) == groups
