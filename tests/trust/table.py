"""Write what ``make trust`` came to: ``python tests/trust/table.py FIGURES PAGE SPEED…``.

Figures are lines of JSON, one for each kind of tries, as the tests note them; SPEED… are what the
benchmarks of speed have printed, each beside its baseline.
"""

import json
import platform
import sys
from datetime import UTC, datetime
from pathlib import Path

ABOUT = """\
# What the tries came to

Written from the figures of `make trust`; [PROMISES.md](../daq/PROMISES.md) says what is promised
and what is not. A run with `SHARE=0.1` makes a tenth of the tries that are dear, and one with
`MINUTES=30` begins no more short recordings after that: what was tried stands in the table, and
more was not. In full that would be a million inputs through the decoder and 10,000 short ones to a
verdict. The seeds are fixed in the tests. Times are of the processor, for the worst single input;
memory was measured on one input in ten, or in fifty, by Python's own tracing.

"""

HEAD = """\
| tried | times | errors of ours | lost beyond the last write | slowest | most memory |
| --- | ---: | ---: | ---: | ---: | ---: |
"""


def row(figures: dict[str, float | str]) -> str:
    """Return one kind of tries as a row; a dash stands where nothing was measured."""
    tried = int(figures["tries"])
    errors = figures.get("exceptions", tried - int(figures.get("survived", tried)))
    lost = f"{figures['bytes_lost']} bytes" if "bytes_lost" in figures else "–"
    took = f"{figures['worst_s'] * 1e3:,.1f} ms" if "worst_s" in figures else "–"
    memory = f"{figures['worst_bytes'] / 1e3:,.0f} kB" if "worst_bytes" in figures else "–"
    asked = int(figures.get("asked", tried))
    times = f"{tried:,}" + (f" of {asked:,} asked" if tried < asked else "")
    return f"| {figures['kind']} | {times} | {errors} | {lost} | {took} | {memory} |\n"


def soak(figures: dict[str, float]) -> str:
    """Return what a long run through a pseudo terminal came to, in a sentence."""
    return (
        f"\nSoak: {figures['tries']:,} s of engine time at 5,000 samples a second came through a"
        f" pseudo terminal {figures['times_real']:.0f} times as fast, recorded and followed with a"
        f" verdict each half minute. Every sample was accounted for and the answer was that of the"
        f" file in one go. The process held {figures['settled_mb']:.1f} MB when settled,"
        f" {figures['most_mb']:.1f} MB at the most and {figures['last_mb']:.1f} MB at the end.\n"
    )


SPEED = """
## Speed

What `tests/benchmarks` printed on the same machine, which did other work as well: each figure has
its baseline beside it, and what is asked for stands in the lines. Where less was reached, it shows.
"""


def speed(printed: Path) -> str:
    """Return what one benchmark has printed, under its name."""
    return f"\n`{printed.stem}`:\n\n```text\n{printed.read_text(encoding='utf-8').strip()}\n```\n"


def main(figures: Path, page: Path, *printed: Path) -> None:
    """Write the page."""
    told = [json.loads(line) for line in figures.read_text().splitlines()]
    rows = [row(each) for each in told if each["kind"] != "soak" and each["tries"]]
    soaked = "".join(soak(each) for each in told if each["kind"] == "soak")
    day = datetime.now(UTC).date().isoformat()
    where = f"Run on {day}, Python {platform.python_version()}, {platform.machine()}.\n"
    speeds = SPEED + "".join(map(speed, printed)) if printed else ""
    page.write_text(ABOUT + HEAD + "".join(rows) + soaked + speeds + "\n" + where, encoding="utf-8")


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:]))
