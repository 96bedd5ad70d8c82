"""What is said of bytes, encoder and sensor: what was lost, has slipped, or shows no true bar."""

from __future__ import annotations

from strokewise.gui.sayings.saying import Sayings, signed


def _of_run(run: int | None) -> str:
    return "" if run is None else f"run {run}: "


def _index_counts(run: int | None, low: int, high: int, stated: int) -> str:
    return (
        f"{_of_run(run)}the index comes every {low} to {high} counts, not every {stated}: wrong"
        " counts_per_rev, or counts are lost or made by interference"
    )


def _clipped_channel(run: int | None, channel: int, share: float) -> str:
    return (
        f"{_of_run(run)}channel {channel}: {100 * share:.1f} % of the readings stand at an end of"
        " the converter, so peaks are cut off"
    )


def _clipped(share: float) -> str:
    return f"{100 * share:.0f} % of the readings stand at the end of the sensor's range"


def _marks_jumped_together(by_deg: float) -> str:
    way = "later" if by_deg > 0 else "earlier"
    return (
        f"marks on different parts jumped together, {abs(by_deg):.1f}° {way}: the encoder's clamp"
        " slipped; angles before and after it do not belong together. Tighten it and record again"
    )


def _turned_back_more(run: int | None) -> str:
    return (
        f"{_of_run(run)}the crank turned back more than forward: direction in the profile may be"
        " the wrong way round"
    )


def _turned_back(others_too: bool) -> str:
    others = " and so are the other cylinders' angles" if others_too else ""
    return (
        "the crank was turned against its own direction, by the profile's encoder.direction: if it"
        f" was turned the right way, that setting is wrong{others}"
    )


def _lost_counts(counts: int, crank_deg: float, turns: int, after_s: float, until_s: float) -> str:
    often = "once" if turns == 1 else f"in {turns} turns"
    return (
        f"{counts} counts ({crank_deg:.1f}° of the crank) were lost or came from nowhere, {often},"
        f" the last {after_s:.1f} to {until_s:.1f} s on the board's clock: angles from before and"
        " after do not fit together; check the encoder's cable, shielding and supply, and whether"
        " the board keeps up"
    )


def _clamp_slip(by_deg: float, at_s: float, half_width_deg: float | None) -> str:
    rough = abs(by_deg) >= 10.0 if half_width_deg is None else half_width_deg >= 1.0
    digits = 0 if rough else 1
    moved = signed(f"{by_deg:+.{digits}f}°")
    if half_width_deg is not None:
        moved += f" (± {half_width_deg:.{digits}f}°)"
    return (
        f"the compressions moved by about {moved} some {at_s:.1f} s in: the encoder has slipped on"
        " the crank; only what came after counts; tighten the clamp"
    )


LET_OUT = (
    "oil, water or fuel may stand in the cylinder, and a hydraulic lock bends rods. Take all plugs"
    " out, faces clear of the holes, turn slowly by hand to let it out, and find where it came"
    " from; no starter before that. (Or the compression ratio stated is far too low.)"
)

FUEL_OFF = (
    "An engine that fires can start by itself; shut off fuel and ignition, let it stand, then turn"
    " it by hand or starter and record again"
)


def _burns(burned: int, seen: int) -> str:
    every = burned == seen
    which = "every compression seen" if every else f"{burned} of {seen}"
    used = "" if every else "; the others alone make the answer"
    return (
        "IGNITION AND FUEL OFF before anything else: the charge burns in the cylinder"
        f" ({which} came down with more pressure than went up{used}). {FUEL_OFF}"
    )


TRACE_SAYINGS: Sayings = {
    # bytes
    "board-silent": (
        "nothing came from the board for {for_s:.1f} s from {since_s:.1f} s on its clock; it"
        " counted on, so its angles hold, but what the crank and the clamp did meanwhile was not"
        " seen"
    ),
    "as-said": "{text}",
    "cut": (
        "{bytes} bytes of the recording are cut off or damaged; the answer is from what is there"
    ),
    "frames-lost": (
        "{about}{lost} of {whole} frames lost and {bad} damaged on the way; nothing was filled in"
        " for them"
    ),
    "left-out": (
        "{samples} samples left out: they came twice, or say what this board cannot have measured"
        " (readings beyond the converter it states, counts that no shaft turns so fast); look at"
        " its supply, at adc_bits in its hello and at its firmware"
    ),
    "no-header": "the file's own header is missing: what was known of the engine is lost",
    "of-file": "{file}: {said}",
    "unchecked-lines": "{lines} lines came without a checksum and cannot prove themselves",
    # encoder and clamp
    "backwards-too-fast": (
        "profile contradicts the trace: by it the crank was turned backwards at {speed_rpm:.0f}"
        " rev/min, which no hand does and no starter can: turn encoder.direction round in the"
        " profile"
    ),
    "clamp-slip": _clamp_slip,
    "clamp-unchecked": (
        "the crank turns and the pressure stays flat: is the sensor out? The answer stands, but"
        " nothing has checked the clamp since {since_s:.1f} s on the board's clock; the next"
        " compression does"
    ),
    "compressions-come-otherwise": (
        "profile contradicts the trace: compressions come every {every_deg:.0f}° of what it calls"
        " the crank's angle, and a cylinder's come every 720° (two-stroke: 360°): check"
        " encoder.counts_per_rev and encoder.drive_ratio, and whether the encoder sits on the crank"
        " or on the camshaft"
    ),
    "counts-skipped": (
        "the board saw {states:,} skipped states of the encoder: counts are lost or made; look at"
        " the pull-ups and the screen of A and B"
    ),
    "index-contradicts-profile": (
        "profile contradicts the trace: the encoder's index comes every {counts} counts, though"
        " {stated} a turn are stated; correct encoder.counts_per_rev (all four edges count)"
    ),
    "index-counts": _index_counts,
    "index-mismatch": (
        "the encoder's index comes every {counts} counts, though {stated} a turn are stated: every"
        " angle is wrong by that share; correct encoder.counts_per_rev (all four edges count)"
    ),
    "lost-counts": _lost_counts,
    "marks-jumped-together": _marks_jumped_together,
    "tdc-drifts": (
        "TDC moves by {by_deg:+.2f}° with every turn: counts are lost or invented on the way, or"
        " the profile's counts or drive ratio are a little off; only the last compressions were"
        " used; check the encoder's cable and its coupling"
    ),
    "turned-back": _turned_back,
    "turned-back-more": _turned_back_more,
    # sensor and pressure
    "charge-burns": _burns,
    "charge-most-likely-burns": (
        "IGNITION AND FUEL OFF before anything else: most likely the charge burns in the cylinder."
        f" {FUEL_OFF}"
    ),
    "clipped": _clipped,
    "clipped-channel": _clipped_channel,
    "compression-release": (
        "the cylinder only begins to hold pressure some {before_deg:.0f}° before TDC, later than"
        " any cam shuts: a compression release (decompressor) that lets go late is most likely,"
        " else an inlet valve held off its seat; only what comes after it makes TDC. Peak, leak and"
        " ratio then say little of the rings: hold the release off, if the engine's manual allows"
        " it, and record again"
    ),
    "last-charge-burns-or-slip": (
        "IGNITION AND FUEL OFF before anything else: most likely the charge burned in the last"
        " compression seen, which came down with more pressure than went up; the others make the"
        " answer. A clamp that slips just then looks the same: the next compression tells."
        f" {FUEL_OFF}"
    ),
    "liquid-by-ratio": (
        "STOP TURNING: pressure rises as at a ratio of {fitted:.0f}:1 or more, where {stated:g}:1"
        f" is stated: {LET_OUT}"
    ),
    "liquid-in-cylinder": (
        "STOP TURNING: pressure rises {times:.2f} times as steeply as air in this engine can:"
        f" {LET_OUT}"
    ),
    "sensor-overranged": (
        "the compressions drove the sensor to some {times:.0f} times the end of its range (half to"
        " three times that): it may be harmed, and its zero moved. Do not crank with it; take one"
        " rated above the engine's compression, and check this one in the open air before you trust"
        " it again"
    ),
    "non-return-valve": (
        "pressure rose to {held_bar:.1f} bar and never fell again over {way_deg:.0f}° of turning: a"
        " non-return valve (as compression testers have) is left in the hose or its adaptor; let"
        " the pressure off, take the valve out, then record again"
    ),
    "peaks-not-above-zero": "the peaks are not above zero pressure",
    "sensor-zero": (
        "the sensor shows {shown_bar:.1f} bar where the cylinder must be near the atmosphere"
        " ({outside_bar:.2f} bar): its zero is off, so peak pressures are only differences; check"
        " the sensor's points in the profile, or let it settle and zero it"
    ),
    "throttle-shut": (
        "the cylinder draws its charge at {drawn_bar:.2f} bar only: the throttle is shut, or the"
        " intake blocked; hold the throttle wide open (rags and tools well clear), then record"
        " again, or the compression reads far too low"
    ),
    "uncalibrated": (
        "the sensor has no known points, so its pressures are only proportional and none is stated;"
        " give two known readings in the profile as sensor.points"
    ),
}
