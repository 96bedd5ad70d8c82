"""``strokewise drive``, every word of it: a rotor started the wrong way ends teeth out."""

import pytest

STEP = [
    "Drive gear in",
    "Turning the engine by hand",
    "Timing not proven (a rebuild, or a moved cam drive)",
    "First of all",
]


UNSAID_SLOT = (
    "where to set it beforehand is not known: add drive_gear.slot_angle and drive_gear.slot_depth"
)


def test_the_whole_page(engine, page):
    """Rotor 55.0° over 12 mm: 360·12·tan 45° / (π·25), clockwise for a right-hand gear."""
    said = page("drive", "--engine", engine(), "--lead-1", "20")
    assert (
        said.body
        == """\
START THE ROTOR AT 325°: going in it turns 55° clockwise and ends at 20°.

  Crank                0.0° after firing TDC of cylinder 1
  Going in             turns 55.0° clockwise, 1.53 teeth: start at 325.0°, end
                       at 20.0°
  One tooth wrong      36.0° of the rotor, 72.0 crank degrees of ignition
                       timing
  Pump's slot          where to set it beforehand is not known: add
                       drive_gear.slot_angle and drive_gear.slot_depth
  Fully home           the gear down on its seat and the rotor at 20.0°. Each
                       mm too high leaves the rotor 4.6° counter-clockwise of
                       that
  Leads                1-3-4-2, clockwise: 1 at 20°, 3 at 110°, 4 at 200°, 2 at
                       290°

A tooth more or less, clockwise +
  −2 teeth             start 253°; end 308°; ignition 144° late
  −1 tooth             start 289°; end 344°; ignition 72° late
  As wanted            start 325°; end 20°; ignition as it should
  +1 tooth             start 1°; end 56°; ignition 72° early
  +2 teeth             start 37°; end 92°; ignition 144° early

Angles of rotor and leads are degrees clockwise, seen on the cap, from the line
that puts the lead of cylinder 1 at 20°."""
    )
    assert (said.warnings, said.cautions) == ([], STEP)


def test_a_left_hand_gear_and_rotor_turn_the_other_way(engine, page, told):
    """Mirrored: the start lies 55° on the other side, and lead 3 on the other side of lead 1."""
    other = engine(('hand = "right"', 'hand = "left"'), ('"clockwise"', '"counter-clockwise"'))
    said = page("drive", "--engine", other, "--lead-1", "20", "--after-tdc", "100")
    # 100 crank degrees on, the rotor has gone 50° counter-clockwise from lead 1: to 330°
    assert said.plain.startswith(
        "START THE ROTOR AT 25°: going in it turns 55° counter-clockwise and ends at 330°."
    )
    assert said.facts == {
        "Crank": "100.0° after firing TDC of cylinder 1",
        "Going in": "turns 55.0° counter-clockwise, 1.53 teeth: start at 25.0°, end at 330.0°",
        "One tooth wrong": "36.0° of the rotor, 72.0 crank degrees of ignition timing",
        "Pump's slot": UNSAID_SLOT,
        "Fully home": "the gear down on its seat and the rotor at 330.0°. Each mm too high leaves"
        " the rotor 4.6° clockwise of that",
        "Leads": "1-3-4-2, counter-clockwise: 1 at 20°, 3 at 290°, 4 at 200°, 2 at 110°",
        # a rotor that runs counter-clockwise and stands further clockwise comes late
        "−2 teeth": "start 313°; end 258°; ignition 144° early",
        "−1 tooth": "start 349°; end 294°; ignition 72° early",
        "As wanted": "start 25°; end 330°; ignition as it should",
        "+1 tooth": "start 61°; end 6°; ignition 72° late",
        "+2 teeth": "start 97°; end 42°; ignition 144° late",
    }
    assert said.cautions == STEP
    answer = told("drive", "--engine", other, "--lead-1", "20", "--after-tdc", "100")
    assert answer["meshing"] == {
        "turn": -55.0,
        "turn_teeth": -1.53,
        "direction": "counter-clockwise",
        "start": 25.0,
        "end": 330.0,
        "tooth": 36.0,
        "tooth_crank": 72.0,
    }
    assert answer["leads"] == [
        {"cylinder": 1, "at": 20.0},
        {"cylinder": 3, "at": 290.0},
        {"cylinder": 4, "at": 200.0},
        {"cylinder": 2, "at": 110.0},
    ]
    assert answer["crank"] == {"after_firing_1": 100.0}
    assert (answer["drawing"]["rotor"][0], answer["drawing"]["rotor"][-1]) == (385.0, 330.0)


@pytest.mark.parametrize(
    ("rotation", "found", "said", "crank"),
    [
        # ahead of its place in its own rotation it sparks early, behind it late
        ("clockwise", "110", "40.0° clockwise of its place: 80 crank degrees early", -80.0),
        ("clockwise", "46", "24.0° counter-clockwise of its place: 48 crank degrees late", 48.0),
        ("counter-clockwise", "10", "40.0° clockwise of its place: 80 crank degrees late", 80.0),
    ],
)
def test_early_is_never_said_for_late(engine, page, told, rotation, found, said, crank):
    """Wanted at 20° + 100°/2 the way the rotor turns: at 70°, or at 330°."""
    file = engine(('rotation = "clockwise"', f'rotation = "{rotation}"'))
    words = ("drive", "--engine", file, "--lead-1", "20", "--after-tdc", "100", "--found", found)
    assert page(*words).facts["Found"] == said
    answer = told(*words)["found"]
    assert answer["crank"] == crank
    assert answer["error"] == (40.0 if crank in (-80.0, 80.0) else -24.0)


def test_what_puts_it_right_is_said_with_its_way(engine, page, told):
    words = ("drive", "--engine", engine(), "--lead-1", "20", "--after-tdc", "100", "--found")
    way = (
        "lift the drive, turn it 1 tooth counter-clockwise seen on the cap, and let it in again;"
        " then turn the distributor's body by the remaining 4°"
    )
    said = page(*words, "110")
    assert said.plain.startswith("L" + way[1:] + ".")
    assert said.facts["To do"] == way
    assert said.cautions == STEP
    answer = told(*words, "110")
    assert answer["found"] == {
        "error": 40.0,
        "crank": -80.0,
        "teeth": 1,
        "rest": 4.0,
        "half_turn": False,
        "lead_moves": {},
        "ways": [way],
    }
    assert answer["decided"] is True
    assert answer["reason"] == "L" + way[1:] + "."
    two = told(*words, "352")["found"]  # 78° behind: two teeth and six degrees
    assert (two["error"], two["teeth"], two["rest"]) == (-78.0, -2, -6.0)
    assert two["ways"][0].startswith("lift the drive, turn it 2 teeth clockwise seen on the cap")


def test_half_a_turn_out(engine, page):
    said = page("drive", "--engine", engine(), "--found", "181")
    assert said.plain.startswith(
        "THE DRIVE IS HALF A TURN OUT, or cylinder 1 stands at its overlap TDC. Crank"
    )
    assert said.facts == {
        "Crank": "0.0° after firing TDC of cylinder 1",
        "Going in": "turns 55.0° clockwise, 1.53 teeth: start at 305.0°, end at 0.0°",
        "One tooth wrong": "36.0° of the rotor, 72.0 crank degrees of ignition timing",
        "Pump's slot": UNSAID_SLOT,
        "Fully home": "the gear down on its seat and the rotor at 0.0°. Each mm too high leaves"
        " the rotor 4.6° counter-clockwise of that",
        "Leads": "1-3-4-2, clockwise: 1 at 0°, 3 at 90°, 4 at 180°, 2 at 270°",
        "Found": "179.0° counter-clockwise of its place: 358 crank degrees late",
        "Way 1": "first make sure that cylinder 1 stands on its firing TDC, not on the overlap TDC",
        "Way 2": "leave the drive, move every plug lead to the tower opposite",
        "Way 3": "lift the drive, turn it 5 teeth clockwise seen on the cap, and let it in again",
        "Leads would move": "1 to 4's, 2 to 3's, 3 to 2's, 4 to 1's tower",
        "−2 teeth": "start 233°; end 288°; ignition 144° late",
        "−1 tooth": "start 269°; end 324°; ignition 72° late",
        "As wanted": "start 305°; end 0°; ignition as it should",
        "+1 tooth": "start 341°; end 36°; ignition 72° early",
        "+2 teeth": "start 17°; end 72°; ignition 144° early",
    }
    assert said.cautions == STEP


@pytest.mark.parametrize(("found", "half"), [("162.5", True), ("161.5", False), ("144", False)])
def test_half_a_turn_is_half_a_tooth_wide(engine, told, found, half):
    """Called half a turn out, four teeth out would be mended by moving every lead: 36° wrong."""
    answer = told("drive", "--engine", engine(), "--found", found)
    assert answer["found"]["half_turn"] is half
    assert bool(answer["found"]["lead_moves"]) is half


def test_with_the_crank_unknown_nothing_is_placed(engine, page):
    file = engine(('[distributor]\nrotation = "clockwise"\n', ""))
    said = page("drive", "--engine", file, "--after-tdc", "30", code=3)
    assert (
        said.body
        == """\
NOT SURE. Which way the rotor turns is not known, so with the crank away from
the firing TDC of cylinder 1 its place is not known either: set
distributor.rotation.

  Crank                30.0° after firing TDC of cylinder 1
  Leads                1-3-4-2, in the order in which the rotor passes them

Angles of rotor and leads are degrees clockwise, seen on the cap, from the line
that puts the lead of cylinder 1 at 0°."""
    )
    assert said.cautions == STEP
