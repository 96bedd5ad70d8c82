from strokewise.gui.models.turn.target import Position, Target, position, targets


def test_a_target_for_every_cylinder_in_firing_order_from_one(four):
    kinds = [(t.kind, t.cylinder) for t in targets(four)]
    assert kinds[:4] == [("firing", 1), ("firing", 3), ("firing", 4), ("firing", 2)]
    assert ("advance", 1) in kinds
    assert kinds.count(("mark", 1)) == 2
    assert kinds[-1] == ("tdc", 1)


def test_a_two_stroke_has_no_overlap(engine):
    two = engine(2, (1, 2), "two-stroke")
    assert not [t for t in targets(two) if t.kind == "overlap"]


def test_overlap_stands_half_a_cycle_from_firing(four, decided):
    firing = position(Target("firing", 3), four, decided(four, 100.0))
    overlap = position(Target("overlap", 3), four, decided(four, 100.0))
    assert firing == Position(280.0, 720.0)
    assert (overlap.angle_deg - firing.angle_deg) % 720 == 360


def test_advance_lies_before_tdc(four, decided):
    assert position(Target("advance", 1, 6.0), four, decided(four)).angle_deg == 94.0


def test_a_mark_on_both_turns_comes_back_every_turn(four, decided):
    notch = position(Target("mark", 1, mark="pulley notch"), four, decided(four))
    dot = position(Target("mark", 1, mark="dot"), four, decided(four))
    assert notch == Position(94.0, 360.0)
    assert dot == Position(460.0, 720.0)


def test_before_the_phase_is_known_only_the_next_tdc_can_be_turned_to(four, half_known, nothing):
    assert position(Target("firing", 1), four, half_known()) is None
    assert position(Target("tdc", 1), four, half_known(angle=100.0)) == Position(100.0, 360.0)
    assert position(Target("tdc", 1), four, nothing) is None
    assert position(Target("tdc", 1), four, None) is None


def test_the_next_one_lies_ahead_whatever_the_turn():
    assert Position(100.0, 720.0).at_or_after(1000.0) == 1540.0
    assert Position(100.0, 720.0).at_or_after(-700.0) == -620.0
    assert Position(100.0, 720.0).at_or_after(100.0) == 100.0
