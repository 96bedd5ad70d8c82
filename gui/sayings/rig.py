"""What is said of the rig before the crank is turned: what came, and what to look at."""

from __future__ import annotations

from strokewise.gui.sayings.saying import Sayings, signed

RATIO_MEANINGS = {
    0.25: "a quarter: the board counts the lines of the disc, not their four edges",
    0.5: "half: only two of the four edges are counted, or the encoder's drive halves them",
    2.0: "twice: counts_per_rev gives half of the edges, or the encoder's drive doubles them",
    4.0: "four times: counts_per_rev gives the lines of the disc, not its edges",
}
"""What a count off by such a factor means."""


def _board(device: str, counts: int | None, bits: int | None, channels: tuple[str, ...]) -> str:
    said = [
        device or "no name",
        f"{counts:,} counts a turn" if counts else "",
        f"{bits} bits" if bits else "",
        f"channels {', '.join(channels)}" if channels else "",
    ]
    return "; ".join(part for part in said if part)


def _board_lacks(board: str, keys: tuple[str, ...]) -> str:
    return f"{board}; it does not say {', '.join(keys)}"


def _over(counts: int, turns: float) -> str:
    return f"{counts:,} counts over {turns:g} turn{'s' if turns != 1 else ''}"


def _counts_right(counts: int, turns: float, expected: float) -> str:
    return f"{_over(counts, turns)}, {expected:,.0f} expected"


def _counts_wrong(counts: int, turns: float, expected: float, by: float | None) -> str:
    meaning = "" if by is None else f": {RATIO_MEANINGS[by]}"
    return f"{_over(counts, turns)} instead of {expected:,.0f}{meaning}"


def _index_wrong(pulses: int, turns: float, apart: tuple[int, ...]) -> str:
    counts = f", {apart[0]:,} to {apart[-1]:,} counts apart" if apart else ""
    return f"{pulses} index pulses in {turns:g} encoder turns{counts}"


def _input(name: str | None, number: int) -> str:
    return f"{name} (input {number})" if name else f"input {number}"


def _at_rest(reading: float, most: float, share: float) -> str:
    return f"reads {reading:.0f} of {most:.0f}, {100 * share:.1f} % of the range"


def _noise(noise_steps: float, share: float) -> str:
    return f"{noise_steps:.1f} steps, {100 * share:.2f} % of the range"


def _noisy(noise_steps: float, share: float) -> str:
    return f"{_noise(noise_steps, share)}: too much for a rig at rest"


def _moved(steps: float, share: float) -> str:
    return signed(f"moved by {steps:+.0f} steps ({100 * share:+.1f} % of the range)")


def _squeezed(steps: float, share: float) -> str:
    return f"{_moved(steps, share)} and came back"


def _squeeze_stays(steps: float, share: float, left_steps: float) -> str:
    left = signed(f"{left_steps:+.0f}")
    return f"{_moved(steps, share)} and did not come back: {left} steps are left"


def _pace_uneven(rate_hz: float, share: float) -> str:
    return f"{rate_hz:,.0f} samples a second, but {100 * share:.1f} % of them do not come evenly"


RIG_SAYINGS: Sayings = {
    # the line and the board
    "rig-nothing-came": "nothing came from the port",
    "rig-is-it-the-port": (
        "check that the board has power, that this is its port, and that it holds the firmware"
    ),
    "rig-only-bytes": "bytes came, but nothing that a board says",
    "rig-is-it-the-baud": (
        "check --baud: it must be the board's own; then the wire from the board's output"
    ),
    "rig-no-hello": "samples came, but the board never said what it is",
    "rig-wait-for-hello": (
        "listen for longer; it must send a hello at start and about every two seconds"
    ),
    "rig-board": _board,
    "rig-board-lacks": _board_lacks,
    "rig-board-started": "{board}; start number {boot}",
    "rig-mend-hello": "mend the hello: without a boot number a restart can pass for a pause",
    "rig-restarts": "the board started {starts} times while it was listened to",
    "rig-look-at-supply": "look at its supply and its plug: every start loses the angle",
    "rig-frames-lost": "{lost} frames lost, {bad} damaged",
    "rig-line-too-slow": (
        "the line is too slow for the pace, or disturbed: raise --baud on both sides, shorten or"
        " screen the cable"
    ),
    "rig-unchecked-lines": "plain lines without a checksum: a damaged one cannot be told",
    "rig-add-checksum": "let the board end each line with its *HH",
    "rig-line-good": "{messages:,} messages, none lost or damaged",
    "rig-mend-profile-or-board": (
        "mend counts_per_rev in the profile, or what the board says of itself"
    ),
    # the pace
    "rig-single-sample": "a single sample came",
    "rig-listen-longer": "listen for longer",
    "rig-pace-too-slow": "{rate_hz:,.0f} samples a second: too few even for a spanner",
    "rig-sample-faster": "let the board sample {least_hz:g} times a second or more",
    "rig-pace-uneven": _pace_uneven,
    "rig-sample-on-timer": "sample on a timer, not in a loop",
    "rig-pace-by-hand": "{rate_hz:,.0f} samples a second: enough by hand, few for a starter",
    "rig-pace-good": "{rate_hz:,.0f} samples a second",
    # the encoder
    "rig-skipped": "the board saw {states:,} skipped states: counts are lost or made",
    "rig-look-at-a-and-b": (
        "look at the pull-ups of A and B, their screen and their earth; then at the speed"
    ),
    "rig-count-trembles": "the count went to and fro by one, {times} times, and got nowhere",
    "rig-one-channel-dead": (
        "turn the crank while it listens; if you did, one channel is dead: look at the wires and"
        " the pull-ups of A and B"
    ),
    "rig-count-stands": "the count never moved",
    "rig-turn-the-crank": (
        "turn the crank while it listens; if you did, look at the encoder's supply, its wires A and"
        " B and their pull-ups, and whether its shaft turns with the crank"
    ),
    "rig-counts-right": _counts_right,
    "rig-counts-wrong": _counts_wrong,
    "rig-mend-counts": "mend counts_per_rev or drive_ratio under [encoder]",
    "rig-turn-once-more": (
        "turn once more, exactly from mark to mark; if it stays, the clamp slips, counts are lost,"
        " or counts_per_rev is another"
    ),
    "rig-counts-forward": "the engine's own way counts forward",
    "rig-counts-backward": "the engine's own way counts backward",
    "rig-say-direction": (
        "if you did turn it its own way, say direction = {direction} under [encoder], or swap A and"
        " B; not both"
    ),
    "rig-no-index-yet": "no index yet: the encoder made less than a turn",
    "rig-no-index": "no index pulse in the whole turn",
    "rig-has-it-an-index": (
        "if the encoder has an index, look at its wire and pull-up; without one, angles hold only"
        " until the board restarts"
    ),
    "rig-index-bounces": "{pulses} index pulses, some of them bouncing",
    "rig-look-at-index": "look at the screen and the pull-up of the index",
    "rig-index-wrong": _index_wrong,
    "rig-one-index-a-turn": "one a turn is right: look for interference, then at counts_per_rev",
    "rig-index-right": "{pulses} in {turns:g} encoder turns",
    # marks
    "rig-input": _input,
    "rig-mark-bounces": "{mark}: {edges} edges, some of them bouncing",
    "rig-mend-pickup": (
        "give the pickup its pull-up and screen; a push button or points want 10 kΩ and 100 nF"
    ),
    "rig-mark-not-seen": "{mark}: not seen",
    "rig-look-for-mark": (
        "a mark that turns at half speed comes on every other turn only: turn once more; else look"
        " at the pickup's gap, supply and wire"
    ),
    "rig-mark-seen": "{mark}: {edges} in {turns:g} turns",
    # the sensor
    "rig-no-channel": "no channel {channel}: the samples have {channels}",
    "rig-say-channel": (
        "say channel = {most} or less under [sensor], or let the board send more channels"
    ),
    "rig-at-an-end": "reads {reading:.0f}, the {end} of the converter",
    "rig-look-at-sensor": (
        "look at the sensor's supply, its signal wire and its earth; at the top also at a range"
        " that the atmosphere already fills"
    ),
    "rig-reads": _at_rest,
    "rig-reads-no-points": "{reads}; no known points yet, so nothing can be said in bar",
    "rig-reads-bar": "{reads}: {shown_bar:.2f} bar absolute, the air has {air_bar:.2f}",
    "rig-must-show-air": (
        "with the hose open it must show the air: check reference (absolute or gauge) and the known"
        " points, or set its zero anew"
    ),
    "rig-quiet": _noise,
    "rig-noisy": _noisy,
    "rig-quieten": (
        "one earth only, at the board; screen the cable; run the laptop on its battery; 1 kΩ and"
        " 10 nF at the input"
    ),
    "rig-not-squeezed": "not tried",
    "rig-squeeze": "squeeze the hose while it listens",
    "rig-hardly-moved": "the reading never moved by more than {steps:.0f} steps",
    "rig-hose-blocked": (
        "put a hand pump on the hose, or breathe into it, while it listens; if you did, the hose is"
        " blocked or the sensor's wires are wrong"
    ),
    "rig-squeezed": _squeezed,
    "rig-squeeze-stays": _squeeze_stays,
    "rig-let-go": (
        "let it go before the end; if you did, a non-return valve is left in hose or adaptor: take"
        " it out"
    ),
}
