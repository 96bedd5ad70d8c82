"""An engine's profile as a person would write it."""

DRIVE = """\
[drive_gear]
teeth = 10
helix_angle = "45 deg"
pitch_diameter = "25 mm"
engagement = "12 mm"
hand = "right"

[distributor]
rotation = "clockwise"

[static_timing]
advance = "6 deg BTDC"
"""
"""The drive of its distributor, and what it is set to."""

# One engine for what needs no recording: no cylinder beside 4 fires a turn from cylinder 1, the
# gaps of the two kinds differ, and so do all four figures of the timing.
BENCH = f"""\
cylinders = 4
firing_order = [1, 3, 4, 2]
turning_back = "never"
stroke = "94 mm"
rod_length = "168 mm"

[valve_timing]
intake_opens_btdc = "12 deg"
intake_closes_abdc = "48 deg"
exhaust_opens_bbdc = "46 deg"
exhaust_closes_atdc = "14 deg"

[valves]
order = "EIIEEIIE"
clearance_inlet = "0.30 mm"
clearance_exhaust = "0.35 mm"

{DRIVE}
[pulley]
radius = "80 mm"

[flywheel]
teeth = 120
"""
