"""What is said of a verdict: why it is decided, or why not and what to do next."""

from __future__ import annotations

from strokewise.gui.sayings.saying import Sayings, capital, times


def _a_rise(rise_bar: float | None) -> str:
    return "a rise" if rise_bar is None else f"a rise of {rise_bar:.2f} bar"


def _rise_not_come_down(rise_bar: float | None) -> str:
    return (
        f"{_a_rise(rise_bar)} was seen, and the crank stopped before it came down again: turn on,"
        " the engine's own way, until it has"
    )


def _other_not_passed(rise_bar: float | None) -> str:
    return (
        f"{_a_rise(rise_bar)} was seen, and the other TDC, one turn away, was not passed beside it:"
        " turn on, two full turns"
    )


def _too_alike(most_bar: float | None) -> str:
    at_most = "" if most_bar is None else f" (at most {most_bar:.2f} bar)"
    return (
        f"the two TDCs differ too little{at_most} to be told apart: no compression here. Plug or"
        " hose loose, a burnt valve, or one without clearance that never shuts: check them, or"
        " sense another cylinder, then turn two full turns"
    )


def _seen(
    cylinder: int,
    times_seen: int,
    rise_bar: float | None,
    at_sensors_end: bool,
    since_moved: bool,
    none_at_other: int,
) -> str:
    seen = times(times_seen)
    of_bar = "" if rise_bar is None else f" of {rise_bar:.1f} bar"
    said = f"compression{of_bar} seen {seen} in cylinder {cylinder}"
    if at_sensors_end:
        said = f"cylinder {cylinder} drove the sensor to the end of its range {seen}"
    if since_moved:
        said = f"since the encoder or the sensor moved: {said}"
    if none_at_other:
        return f"{said}, and none at the TDC one turn away, passed {times(none_at_other)}"
    return f"{said}; no breathing makes so much, though the other TDC was not passed"


def _none_in_two_turns(moved_bar: float | None) -> str:
    moved = "" if moved_bar is None else f" (pressure moved by {moved_bar:.2f} bar)"
    return (
        f"no compression in two full turns{moved}: plug hole or hose open, or a valve that does not"
        " shut; check, then turn two full turns again"
    )


def _order(order: tuple[int, ...]) -> str:
    return "-".join(map(str, order))


def _order_contradicts(
    one: int, other: int, seen_deg: float, stated_deg: float, order: tuple[int, ...]
) -> str:
    return (
        f"profile contradicts the trace: cylinder {other} fires {seen_deg:.0f}° after cylinder"
        f" {one} by the trace, and {stated_deg:.0f}° after by the firing order {_order(order)}:"
        " correct firing_order or rotation, or see which sensor is in which cylinder"
    )


def _other_against(sure: int, other: int, order: tuple[int, ...]) -> str:
    return (
        f"two explanations left: cylinder {sure} is sure by itself, but what cylinder {other} shows"
        f" speaks against the firing order {_order(order)}: check it, then turn two more full turns"
    )


def _odd_one(cylinder: int, draws_less: bool) -> str:
    how = "draws less, its plug being out" if draws_less else "draws at its own runner"
    return f"cylinder {cylinder} {how}: that tells whose pulse is whose"


def _whose_pulse(places_deg: tuple[float, ...]) -> str:
    places = ", ".join(f"{place:.0f}°" for place in places_deg)
    return (
        f"the manifold shows a pulse for every cylinder but not whose: cylinder 1 fires at one of"
        f" {places} (encoder frame). To decide: sense one cylinder at its plug hole; or take one"
        " plug out and press the mark 'plug out N'; or turn by hand and press 'valves rock N' when"
        " both valves of cylinder N rock"
    )


def _from_before(earlier: str, answer: str) -> str:
    return f"{earlier}. {capital(answer)}"


VERDICT_SAYINGS: Sayings = {
    # decided
    "both-together": "neither cylinder decides alone, both together do",
    "by-your-word": "by your word the valves of cylinder {cylinder} rocked: it was at overlap then",
    "compresses-at-every-turn": (
        "cylinder {cylinder} compresses at every turn, as a two-stroke does: one TDC a turn"
    ),
    "compression-seen": _seen,
    "odd-one-draws": _odd_one,
    "single-draws-in": "one cylinder draws in once every two turns, at its intake stroke",
    "turned-backwards": (
        "{why}. TURNED BACKWARDS, by encoder.direction: be sure that it was, or only cylinder"
        " {cylinder}'s angle is right"
    ),
    # nothing yet
    "count-stands-now": (
        "pressure moves and the count does not: look at the encoder's cable, clamp and coupling"
    ),
    "encoder-not-moved": (
        "the encoder has not moved: check its clamp and its cable, then turn the crank"
    ),
    "first-samples": "the first samples have only just come in: turn on",
    "first-weighed": "the first compressions are being weighed: turn on meanwhile",
    "hidden-from-class": "hidden until the class has answered",
    "no-compression-in-two-turns": _none_in_two_turns,
    "no-compressions-shape": (
        "pressure rises and falls, but nowhere as a compression does over the crank's angle: check"
        " the sensor's hose and the encoder's clamp"
    ),
    "no-samples-yet": "no samples yet: start the board and turn the crank",
    "nothing-measured": (
        "no samples: nothing was measured; check encoder and board, then record again"
    ),
    "pressure-flat": (
        "the pressure is flat over two full turns: sensor off, hose off, or its valve shut"
    ),
    "sensor-at-its-end": (
        "the sensor stands at the end of its range: check its wiring and its range"
    ),
    "silent-now": (
        "the board is silent: where the crank stands is not known; look at plug, cable and board"
    ),
    "turned-too-little": (
        "turned {turned_deg:.0f}° of the 720° of two full turns and no whole compression seen: turn"
        " on the engine's own way"
    ),
    # the stroke is open
    "alike-at-the-sensors-end": (
        "the sensor stands at the end of its range at TDC, and the two TDCs differ too little"
        " beside it: turn two more full turns, or take a sensor of a wider range"
    ),
    "compression-stayed-away": (
        "the compression of cylinder {cylinder} stayed away at the last turns where it was before:"
        " the sensor or its hose has come off, or the encoder has slipped; check both, then turn"
        " two full turns"
    ),
    "compressions-at-both-tdcs": (
        "compressions came at both TDCs, one after the other: the encoder has slipped on the crank,"
        " or the profile's counts or drive ratio are wrong; tighten the clamp, then turn two full"
        " turns without touching it"
    ),
    "last-compression-off": (
        "the last compression came {off_deg:+.0f}° off the others: has the clamp slipped? Turn on,"
        " the next compression tells"
    ),
    "no-compression-at-any-turn": (
        "no compression at any turn: check plug, hose and sensor, then turn two full turns"
    ),
    "not-through-a-tdc": (
        "the crank has not been turned right through a TDC yet: turn two full turns the engine's"
        " own way without a pause near the top"
    ),
    "other-tdc-not-passed": _other_not_passed,
    "rise-not-come-down": _rise_not_come_down,
    "rises-at-every-turn": (
        "pressure rises at every turn: a two-stroke, valves that do not open (rockers or pushrods"
        " off), or an encoder on the camshaft with the profile's encoder.drive_ratio left at 1;"
        " look at the valves and the profile, then turn two full turns by hand"
    ),
    "tdcs-too-alike": _too_alike,
    "two-stroke-as-four-stroke": (
        "profile contradicts the trace: it says two-stroke, but pressure rises only at every second"
        " turn, as in a four-stroke: correct cycle in the profile"
    ),
    "two-stroke-not-through-a-tdc": (
        "the crank has not been turned right through a TDC yet: turn two full turns"
    ),
    # TDC or the stroke alone
    "neither-known": "neither stroke nor TDC is known: {tdc}",
    "stop-turning-first": (
        "STOP TURNING, liquid may stand in the cylinder (see the warning); {why}"
    ),
    "stroke-without-tdc": "the stroke is known, TDC is not. TDC: {tdc}. Stroke: {stroke}",
    # a sensor in the manifold
    "few-turns-in-manifold": (
        "too few turns for a manifold sensor: crank four full turns by the starter, throttle shut"
    ),
    "no-pulses-in-manifold": (
        "the manifold shows no pulses at the firing frequency: shut the throttle, use a sensor of a"
        " vacuum range, crank by the starter; or sense one cylinder at its plug hole"
    ),
    "two-strokes-intake": "a two-stroke's intake says nothing: sense a plug hole instead",
    "uneven-in-manifold": (
        "cylinders that fire unevenly are not told apart in the manifold: sense one cylinder at its"
        " plug hole"
    ),
    "whose-pulse": _whose_pulse,
    # several sensors, and a person's word
    "firing-order-contradicts": _order_contradicts,
    "other-speaks-against": _other_against,
    "press-against-pressure": (
        "the press that valves of cylinder {cylinder} rock contradicts the pressure by a turn: look"
        " again which valves rock, and which cylinder is sensed"
    ),
    "press-between-two": (
        "the press that valves of cylinder {cylinder} rock lies between two candidates: press again"
        " when both valves are open by the same; cylinders that fire so close together are told"
        " apart at a plug hole"
    ),
    "press-fits-none": (
        "the press that valves of cylinder {cylinder} rock fits no candidate: press again"
    ),
    "presses-contradict": "presses of rocking valves contradict each other: none is used",
    "second-agrees": "cylinder {cylinder} was sensed too and agrees with the firing order",
    "second-silent": (
        "cylinder {cylinder} was sensed too and decides nothing, so nothing checks the firing"
        " order: {why}"
    ),
    "two-explanations": "two explanations left: {why}",
    # an answer from before
    "answer-from-before": _from_before,
    "answer-moved": "the answer has moved by {by_deg:+.0f}°: do not use what it was before",
    "board-restarted": ("the board started {starts} times; the answer is that of the last start"),
    "crank-not-known": "{why}: where the crank stands is not known",
    "did-not-follow": (
        "the pressure moved at {moved_s:.1f} s on the board's clock while the count had stood since"
        " {stood_s:.1f} s: the encoder did not follow the crank"
    ),
    "encoder-stands": "{why}; only what came after counts. Check its cable, clamp and coupling",
    "from-before": (
        "{why}, and nothing since then decides; these angles are from before and no longer hold at"
        " the encoder"
    ),
    "no-longer-holds": "{why}; what was known before no longer holds. Now: {now}",
    "restarted-since": (
        "the board has started again since: what was measured before no longer holds at the"
        " encoder; turn the engine through two compressions"
    ),
    "started-again-since": "the board has started again since",
    "started-anew": "the board has started anew",
    "tdc-by-index": (
        "{why}; its index brings TDC back, as the clamp was before, but not the stroke: turn two"
        " full turns"
    ),
    "withdrawn": "the answer given before is withdrawn: {why}",
}
