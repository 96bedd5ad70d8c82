"""Let real firmware see a simulated engine, on a port that every command can open.

usage: python firmware_notes/sim/on_the_bench.py BUILD [SCENARIO] [KEY=VALUE ...]

BUILD is where the Makefile beside this folder has put the firmware and the harness. Prints the
port, and what to type in another window. The engine stands still after its run, until Ctrl-C.
"""

import subprocess
import sys
import tempfile
from pathlib import Path

from strokewise.analysis.errors import StrokewiseError
from strokewise.daq.bench.bench import turn
from strokewise.daq.bench.keep import write_profile
from strokewise.daq.bench.parameters import split_settings
from strokewise.daq.bench.pins import pin_drive
from strokewise.daq.bench.scenarios.scenarios import scenario

HOUR_S = "3600"
BOARD = ("bits=10", "rate=2000 Hz")  # what this board has


def main(build: str, name: str = "hand-turned", *settings: str) -> int:
    """Turn the engine, put it on the pins, and wait until the port is no longer wanted."""
    bench = scenario(name).build(split_settings([*settings, *BOARD]))
    print("The engine is being turned ...", file=sys.stderr)
    drive = pin_drive(bench, turn(bench))
    with tempfile.TemporaryDirectory() as folder:
        file, profile = Path(folder) / "drive", Path(folder) / "bench.toml"
        file.write_bytes(drive.to_bytes())
        write_profile(bench, profile)
        program = [f"{build}/harness", f"{build}/avr-500000-2000.elf", str(file)]
        program += ["--pty", "--paced", "--seconds", HOUR_S]
        with subprocess.Popen(program, stdout=subprocess.PIPE, text=True) as board:
            assert board.stdout is not None
            port = board.stdout.readline().strip()
            print(
                f"The firmware waits on {port} for somebody to listen. In another window, one of:\n"
                f"  strokewise record {port} bench.swr --baud 500000 --engine {profile}\n"
                f"  strokewise watch {port} --baud 500000 --engine {profile}\n"
                f"  strokewise live {port} --baud 500000 --engine {profile}\n"
                f"  strokewise check {port} --baud 500000 --engine {profile}\n"
                "Ctrl-C ends it.",
                flush=True,
            )
            try:
                return board.wait()
            except KeyboardInterrupt:
                board.terminate()
                return 0


if __name__ == "__main__":
    try:
        sys.exit(main(*sys.argv[1:]))
    except StrokewiseError as error:
        sys.exit(str(error))
