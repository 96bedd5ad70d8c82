import itertools

import pytest

from strokewise.analysis.profile import ValveTiming
from strokewise.gui.models.figures.chart import chart_for


def test_rows_come_in_firing_order(four, twelve, decided):
    assert [r.cylinder for r in chart_for(four, decided(four), 0.0).rows] == [1, 3, 4, 2]
    assert len(chart_for(twelve, decided(twelve), 0.0).rows) == 12


def test_blocks_cover_the_cycle_without_gap_or_overlap(four, decided, half_known):
    for verdict in (decided(four), half_known()):
        chart = chart_for(four, verdict, 0.0)
        for row in chart.rows:
            edges = [(b.start_deg, b.end_deg) for b in row.blocks]
            assert edges[0][0] == 0
            assert edges[-1][1] == pytest.approx(chart.span_deg)
            for (_, end), (start, _) in itertools.pairwise(edges):
                assert end == pytest.approx(start)


def test_the_axis_starts_at_firing_tdc_of_one(four, decided):
    chart = chart_for(four, decided(four, 100.0), 820.0 + 45)
    assert chart.now_deg == pytest.approx(45)
    first = chart.rows[0]
    assert [b.label for b in first.blocks] == ["firing", "exhaust", "intake", "compression"]
    assert first.firing_now
    assert first.doing == "firing"
    assert first.sensed


def test_the_companion_is_in_overlap_when_one_fires(four, decided):
    chart = chart_for(four, decided(four, 100.0), 100.0)
    doing = {r.cylinder: r.doing for r in chart.rows}
    assert doing[1] == "firing"
    assert doing[4] == "valves rock"


def test_valve_bars_show_the_manuals_figures(four, decided):
    first = chart_for(four, decided(four), 0.0).rows[0]
    spans = {(b.valve, b.start_deg, b.end_deg) for b in first.bars}
    assert spans == {("exhaust", 134, 374), ("inlet", 348, 588)}


def test_a_bar_over_the_end_of_the_axis_is_cut_in_two(engine, decided):
    profile = engine(valve_timing=ValveTiming(12, 48, 46, 14))
    row = next(r for r in chart_for(profile, decided(profile), 0.0).rows if r.cylinder == 4)
    assert all(0 <= b.start_deg < b.end_deg <= 720 for b in row.bars)
    inlet = [b for b in row.bars if b.valve == "inlet"]
    assert sum(b.end_deg - b.start_deg for b in inlet) == pytest.approx(240)
    assert len(inlet) == 2


def test_no_timing_no_bars(engine, decided):
    profile = engine()
    assert not any(r.bars for r in chart_for(profile, decided(profile), 0.0).rows)


def test_undecided_runs_over_one_turn_and_names_both_strokes(four, half_known):
    chart = chart_for(four, half_known(1, 100.0), 90.0)
    assert chart.span_deg == 360
    assert not chart.decided
    assert {b.kind for r in chart.rows for b in r.blocks} == {
        "compression or exhaust",
        "power or intake",
    }
    assert "not known yet" in chart.note
    assert chart.rows[0].doing == "going up"
    assert not any(r.firing_now for r in chart.rows)


def test_the_sensed_cylinder_need_not_be_the_first(four, half_known):
    chart = chart_for(four, half_known(3, 280.0), 0.0)
    assert chart.zero_deg == pytest.approx(100)  # cylinder 3 fires 180 degrees after 1


def test_a_two_stroke_has_one_turn_and_two_strokes(engine, decided):
    two = engine(2, (1, 2), "two-stroke")
    chart = chart_for(two, decided(two, 100.0), 0.0)
    assert chart.span_deg == 360
    assert {b.kind for r in chart.rows for b in r.blocks} == {"power", "compression"}
    assert {f.kind for r in chart.rows for f in r.flags} == {"firing"}


def test_nothing_known_shows_rows_and_where_the_encoder_stands(four, nothing):
    chart = chart_for(four, nothing, 1120.0)
    assert chart.now_deg == pytest.approx(400)
    assert all(not r.blocks for r in chart.rows)
    assert chart_for(four, None, None).now_deg is None


def test_marks_and_target_are_flags(four, decided):
    chart = chart_for(four, decided(four, 100.0), 0.0, 460.0, "firing TDC of 4")
    labels = {(f.label, f.angle_deg) for f in chart.marks}
    assert ("pulley notch", 354) in labels
    assert ("pulley notch", 714) in labels
    assert ("dot", 360) in labels
    assert ("firing TDC of 4", 360) in labels
