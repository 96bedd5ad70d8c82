"""Which serial ports are there?"""

from __future__ import annotations

import argparse

from strokewise.daq import ports
from strokewise.gui.options import (
    EXIT_DECIDED,
    EXIT_UNDECIDED,
    Subparsers,
    add_command,
    add_json_option,
)

NONE_FOUND = "no serial port found: plug the board in and try again"
NONE_FOUND_HINT = (
    "On Linux a board appears as /dev/ttyACM0 or /dev/ttyUSB0, and you must be in the group that\n"
    "owns it (often dialout)."
)
DEVICE_WIDTH = 16


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise ports``."""
    parser = add_command(
        subparsers,
        "ports",
        example="strokewise ports",
    )
    add_json_option(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print one line for each port; that there is none is said in words, with exit code 3."""
    found = ports.ports()
    if args.json:
        from strokewise.gui.pages.answers import as_line, base_answer

        reason = f"{len(found)} found" if found else NONE_FOUND
        answer = base_answer(bool(found), reason)
        answer["ports"] = [
            {"port": port.device, "description": port.description or None} for port in found
        ]
        print(as_line(answer))
    elif found:
        for port in found:
            print(f"{port.device:<{DEVICE_WIDTH}} {port.description}".rstrip())
    else:
        print(f"{NONE_FOUND[0].upper()}{NONE_FOUND[1:]}.\n{NONE_FOUND_HINT}")
    return EXIT_DECIDED if found else EXIT_UNDECIDED
