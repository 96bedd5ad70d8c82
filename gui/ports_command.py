"""Which serial ports are there?"""

from __future__ import annotations

import argparse
import json

from strokewise.gui.options import Subparsers, add_command, add_json_option


def add_parser(subparsers: Subparsers[argparse.ArgumentParser]) -> None:
    """Register ``strokewise ports``."""
    parser = add_command(
        subparsers,
        "ports",
        about="List the serial ports of this computer, with what they say of themselves.",
        example="strokewise ports",
    )
    add_json_option(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print one line for each port; an empty list is said in words."""
    from serial.tools import list_ports

    ports = sorted(list_ports.comports(), key=lambda port: port.device)
    if args.json:
        from strokewise.gui.answers import base_answer

        answer = base_answer(True, f"{len(ports)} serial port(s) found")
        answer["ports"] = [
            {"port": port.device, "description": port.description, "hardware": port.hwid}
            for port in ports
        ]
        print(json.dumps(answer))
        return 0
    for port in ports:
        print(f"{port.device:<16}{port.description}")
    if not ports:
        print("No serial port found. Plug the board in; on Linux it appears as /dev/ttyACM0 or")
        print("/dev/ttyUSB0, and you need to be in the group that owns it (usually dialout).")
    return 0
