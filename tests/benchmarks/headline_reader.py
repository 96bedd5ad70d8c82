"""Does the headline of a printed answer say what its own facts do? A reader of its own.

It reads the text that a person reads and the JSON of the same answer, shares nothing with what made
either, and returns a line for each contradiction: an answer of before or unchecked that is called
sure, a word more exact than its interval, half a turn that is not said first, another cylinder than
the one that fires, something to be set where it is not free.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from math import isclose
from typing import Any

Json = Mapping[str, Any]

NOTHING_WRONG = {
    "mark right",
    "cam on its tooth",
    "encoder clamp held",
    "sensor in the cylinder stated",
}
"""Causes of a part with which nothing is wrong."""

DIGITS_MOST = 35.5
"""A half width of more of a figure's last place has one digit too many behind it."""

ROUGH_DEG = 1.0
SURE = re.compile(
    r"^(DECIDED|STROKE SURE|SET NOW|STOP: YOU ARE THERE|ALL VALVES ARE SET|START THE ROTOR)"
)
BEFORE = "DECIDED, BUT FROM BEFORE"
UNCHECKED = {"board-silent", "clamp-unchecked"}
NARROW = ("Rock it", "Turn it on through", "May it be turned back?")
FIGURE = re.compile(r"(?<![\w.])\d+(?:\.\d+)?(?=\s?[°%]|\s?bar)")
PAIR = re.compile(
    r"(?P<value>\d+\.?\d*)(?:°| %| mm| bar)?(?: (?P<side>late|early|after|before|over|under))?"
    r" \((?P<low>\d+\.?\d*)(?: (?P<lows>late|early|after|before|over|under))?"
    r" to (?P<high>\d+\.?\d*)(?: (?P<highs>late|early|after|before|over|under))?\)"
)
POSITIVE = {"late", "after", "over"}


def headline_of(text: str) -> str:
    """Return the first paragraph in one line."""
    return " ".join(text.split("\n\n")[0].split())


def contradictions(step: str, text: str, answer: Json) -> list[str]:
    """Return what a printed answer says that it contradicts itself; nothing where all is well."""
    head = headline_of(text)
    found = [*_certainty(head, answer), *_stale(head, answer), *_exactness(step, head, answer)]
    reader = READERS.get(step)
    return [
        f"{step}: {each}: {head}" for each in (*found, *(reader(head, answer) if reader else ()))
    ]


def _certainty(head: str, answer: Json) -> Iterator[str]:
    if not answer["decided"] and any(SURE.match(each) for each in _claims(head)):
        yield "undecided and sure"
    if answer["decided"] and re.match(r"NOT SURE", head):
        yield "decided and not sure"


def _claims(head: str) -> list[str]:
    return re.split(r"(?<=[.?]) (?=[A-Z])", head)


def _codes(answer: Json) -> set[str]:
    return {warning["code"] for warning in answer["warnings"]}


def _stale(head: str, answer: Json) -> Iterator[str]:
    before = any("are from before and no longer" in each["text"] for each in answer["warnings"])
    if before and SURE.match(head) and not head.startswith(BEFORE):
        yield "of before and not said first"
    if UNCHECKED & _codes(answer) and any(
        SURE.match(each) for each in _claims(head)[:1] if not each.startswith(BEFORE)
    ):
        yield "unchecked and sure"


def _intervals(node: Any) -> Iterator[tuple[float, float, float]]:
    """Yield every value with its low and high, wherever it stands."""
    if isinstance(node, Mapping):
        if {"low", "high"} <= set(node) and ("value" in node or "angle" in node):
            value = node.get("value", node.get("angle"))
            if value is not None:
                yield value, node["low"], node["high"]
        for each in node.values():
            yield from _intervals(each)
    elif isinstance(node, list):
        for each in node:
            yield from _intervals(each)


def _exactness(step: str, head: str, answer: Json) -> Iterator[str]:
    if "to a tenth of a degree" in head:
        yield "right to a tenth"
    about = list(_intervals({key: node for key, node in answer.items() if key != "diagnostics"}))
    if step == "find" and answer["tdc"] is not None:
        tdc = answer["tdc"]
        half = (tdc["high"] - tdc["low"]) / 2
        about += [(at, at - half, at + half) for at in (answer["firing"] or {}).values()]
    if step in ("compare", "static"):  # shares of 1, said in per cent
        about += [(100 * v, 100 * low, 100 * high) for v, low, high in about]
    for figure in FIGURE.findall(head):
        decimals = len(figure.partition(".")[2])
        if not decimals:
            continue
        place = 10.0**-decimals
        own = [
            (value, low, high)
            for value, low, high in about
            if abs(abs(value) - float(figure)) <= 0.51 * place and value
        ]
        if own and all((high - low) / 2 > DIGITS_MOST * place * 1.02 for _, low, high in own):
            yield f"{figure} is more exact than {own[0]}"
    for pair in PAIR.finditer(head):
        yield from _pair(pair, about)


def _pair(pair: re.Match[str], about: list[tuple[float, float, float]]) -> Iterator[str]:
    """A printed interval is one of the answer's, and not narrower than its digits make it."""

    def signed(number: str, side: str | None) -> float:
        return float(number) * (1.0 if side is None or side in POSITIVE else -1.0)

    side = pair["side"]
    value = signed(pair["value"], side)
    low, high = sorted(
        (signed(pair["low"], pair["lows"] or side), signed(pair["high"], pair["highs"] or side))
    )
    place = 10.0 ** -len(pair["low"].partition(".")[2])
    own = [
        each
        for each in about
        if all(
            isclose(one, other, abs_tol=0.51 * place + 1e-9)
            for one, other in zip(each, (value, low, high), strict=True)
        )
    ]
    if not low - place <= value <= high + place:
        yield f"{pair[0]} does not hold its value"
    elif about and not own:
        yield f"{pair[0]} is no interval of the answer"


def _find(head: str, answer: Json) -> Iterator[str]:
    firing, tdc = answer["firing"], answer["tdc"]
    for cylinder, angle in re.findall(r"cylinder (\d+) fires at (\d+(?:\.\d+)?)°", head):
        if firing is None:
            continue
        place = 10.0 ** -len(angle.partition(".")[2])
        if cylinder not in firing or abs(firing[cylinder] - float(angle)) > 0.51 * place:
            yield f"cylinder {cylinder} does not fire at {angle}°"
    if tdc is None or not answer["decided"]:
        return
    half = (tdc["high"] - tdc["low"]) / 2
    said = re.search(r"TDC ± (\d+(?:\.\d+)?)°", head)
    if said and float(said[1]) < 0.86 * half:
        yield f"TDC ± {said[1]}° for ± {half:.3f}°"
    yield from _rough(head, half)


def _rough(head: str, half: float) -> Iterator[str]:
    if half > ROUGH_DEG and not head.startswith(BEFORE):
        if head.startswith("DECIDED"):
            yield f"decided with TDC ± {half:.1f}°"
        if not any(words in head for words in NARROW):
            yield f"TDC ± {half:.1f}° asks for nothing"


def _marks(head: str, answer: Json) -> Iterator[str]:
    for mark in answer["marks"]:
        late = mark["late"]
        said = re.search(rf"{re.escape(mark['name'])} ([\d.]+)° (late|early)", head, re.IGNORECASE)
        if said and late and (late["value"] > 0) != (said[2] == "late"):
            yield f"{mark['name']} on the wrong side"
        right = re.search(rf"{re.escape(mark['name'])} right within ([\d.]+)°", head, re.IGNORECASE)
        if right and late:
            place = 10.0 ** -len(right[1].partition(".")[2])
            reach = max(abs(late["low"]), abs(late["high"]))
            if float(right[1]) < reach - 0.51 * place or not late["low"] <= 0 <= late["high"]:
                yield f"{mark['name']} is not right within {right[1]}°"
    said = re.search(r"[Mm]ost probable: ([^.]*)\.", head)
    if said:
        best = _best_of_each_part(answer["findings"])
        faults = {cause for cause in best if cause not in NOTHING_WRONG}
        named = set(said[1].split("; "))
        if not named <= best or (named == {"mark right"} and faults):
            yield "another cause is the most probable"


def _best_of_each_part(findings: list[Json]) -> set[str]:
    best: dict[str, Json] = {}
    for finding in findings:
        known = best.setdefault(finding["part"], finding)
        if finding["probability"] > known["probability"]:
            best[finding["part"]] = finding
    return {finding["cause"] for finding in best.values()}


def _cam(head: str, answer: Json) -> Iterator[str]:
    half = answer["half_turn"]
    if half.get("value", half.get("out")) is True and "HALF A TURN" not in _claims(head)[0]:
        yield "half a turn is not said first"
    said = re.search(r"DECIDED: Cam ([\d.]+)° (late|early)", head)
    if said and (answer["shift"]["value"] > 0) != (said[2] == "late"):
        yield "the cam on the wrong side"


def _valves(head: str, answer: Json) -> Iterator[str]:
    valves = {valve["valve"]: valve for valve in answer["valves"] or ()}
    said = re.search(r"SET NOW: ([^.]*)\.", head)
    for key in said[1].split(", ") if said else ():
        if not valves[key]["ready"] or valves[key]["done"]:
            yield f"{key} is not to be set here"
    bad = [gap for gap in answer["gaps"] if gap["status"] in ("out", "to set", "remeasure")]
    if "ALL VALVES ARE SET" in head and (bad or not all(v["done"] for v in valves.values())):
        yield "not all are set"
    for gap in answer["gaps"]:
        valve = valves.get(gap["valve"])
        judged = gap["status"] not in ("valve not free", "place not known", "not measured")
        if judged and (valve is None or not (valve["ready"] or valve["done"] or gap in bad)):
            yield f"gap of {gap['valve']} judged where it is not free"
        said_so = re.search(rf"GAP OF [^.]*\b{gap['valve']}\b", head)
        if gap["status"] == "valve not free" and not said_so:
            yield f"gap of {gap['valve']} is not judged, and nothing says so first"
        if gap["status"] == "good" and valve is not None and not valve["done"]:
            yield f"{gap['valve']} is good and not done"


def _drive(head: str, answer: Json) -> Iterator[str]:
    found = answer["found"]
    if found and found["half_turn"] and "HALF A TURN" not in _claims(head)[0]:
        yield "half a turn is not said first"
    said = re.search(r"START THE ROTOR AT (\d+)°", head)
    if said and abs((answer["meshing"]["start"] - float(said[1]) + 180) % 360 - 180) > 0.51:
        yield "the rotor starts elsewhere"


def _static(head: str, answer: Json) -> Iterator[str]:
    moves = answer["moves"]
    if "YOU ARE THERE" in head and moves != []:
        yield "it does not stand there"
    on = re.search(r"(TURN ON|GO BACK) (\d+)°", head)
    if on and moves and abs(abs(moves[0]["turn"]) - float(on[2])) > 0.51:
        yield "another move comes first"
    strobe = answer["strobe"]
    if strobe and "Nothing is off" in head and strobe["culprits"] != ["nothing"]:
        yield "something is off"


def _compare(head: str, answer: Json) -> Iterator[str]:
    within = re.search(r"agree within ([\d.]+) %", head)
    if within and float(within[1]) < 100 * answer["spread"]["high"] - 0.051:
        yield f"they agree within {100 * answer['spread']['high']:.1f} % only"
    if within and answer["findings"]:
        yield "something was found"
    named = re.match(r"Cylinder ([\d and]+):", head)
    if (
        named
        and [int(n) for n in re.findall(r"\d+", named[1])] != answer["findings"][0]["cylinders"]
    ):
        yield "another cylinder was found"


def _check(head: str, answer: Json) -> Iterator[str]:
    health = answer["health"]
    if "nothing is missing" in head and (health["lost_frames"] or health["bad_frames"]):
        yield "something is missing"


def _response(head: str, answer: Json) -> Iterator[str]:
    said = re.search(r"AT MOST ([\d.]+ ms)", head)
    if said and said[1] != answer["upper_bound"]:
        yield "another bound"


READERS = {
    "find": _find,
    "marks": _marks,
    "cam": _cam,
    "valves": _valves,
    "drive": _drive,
    "static": _static,
    "compare": _compare,
    "check": _check,
    "response": _response,
}
