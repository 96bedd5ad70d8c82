"""A screen that is not there, a real window on it, and hands for its keys and mouse."""

import json
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

SCREEN = "2800x900x24"
"""Room for the class's window and the trainer's beside each other."""
TOLD_WINDOW = Path(__file__).with_name("told_window.py")
FEW_CLICKS_S = 2.0
"""A window that a click has closed is not told of the rest of it."""
COVERED_S = 3.0
"""As long as a panel takes to close on a busy machine; a message stays for longer."""
WHEEL_STEPS = 60
OFTEN_S, SELDOM_S = 0.03, 0.4
"""Between two looks, at first and later: each takes a program of its own."""
WAITED_SHARE = 1 / 20
"""What was waited for is seen so much of its time late, at the most."""
PATIENCE_S = 180.0
"""A loaded machine of two cores takes half a minute for what takes two seconds alone."""


def needed(program):
    """A journey that cannot be made fails: skipped, nobody would notice."""
    found = shutil.which(program)
    assert found, f"the window's journeys need {program}: sh .ci/system-packages installs it"
    return found


@pytest.fixture(scope="session")
def screen():
    """A virtual screen of its own; yields its name."""
    readable, writable = os.pipe()
    # Without -noreset it begins anew when one test's window closes, and refuses the next one's.
    alone = ("-screen", "0", SCREEN, "-nolisten", "tcp", "-noreset")
    server = subprocess.Popen(
        [needed("Xvfb"), "-displayfd", str(writable), *alone],
        pass_fds=(writable,),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    os.close(writable)
    with os.fdopen(readable) as said:
        number = said.readline().strip()
    assert number, "Xvfb did not start"
    yield f":{number}"
    server.terminate()
    server.wait(10)


class Hands:
    """Drives one window by real key presses and mouse moves."""

    def __init__(self, screen, process, folder):
        self.env = {**os.environ, "DISPLAY": screen}
        self.process, self.folder, self.clicks = process, folder, 0
        self.window = self.wait(self._find, "the window")

    def _do(self, *words):
        return subprocess.run(
            [needed("xdotool"), *map(str, words)], env=self.env, capture_output=True, text=True
        )

    def _find(self):
        assert self.process.poll() is None, self.process.stderr.read()
        found = self._do("search", "--onlyvisible", "--name", "^strokewise ·").stdout.split()
        return found[0] if found else None

    def wait(self, condition, what):
        """Wait until something is true, and return it."""
        began = time.monotonic()
        while not (result := condition()):
            waited = time.monotonic() - began
            assert waited < PATIENCE_S, f"waited in vain for {what}; {self.title()}"
            time.sleep(min(SELDOM_S, max(OFTEN_S, waited * WAITED_SHARE)))
        return result

    def title(self):
        return self._do("getwindowname", self.window).stdout.strip() if self.window else ""

    window = ""

    def until_title(self, *parts):
        return self.wait(lambda: all(part in self.title() for part in parts), f"title {parts}")

    def focus(self):
        self._do("windowfocus", "--sync", self.window)

    def keyboard(self):
        """Return what the keyboard is in: the thing itself, and all that it lies in."""
        return set(self._told("")["keyboard"])

    def key(self, *names):
        self.focus()
        for name in names:
            self._do("key", "--clearmodifiers", name)
            time.sleep(0.15)

    def type(self, text):
        self._do("windowfocus", "--sync", self.window)
        self._do("type", text)

    def strike(self, *names):
        """Press keys one after the other, as fast as a practised hand."""
        self._do("windowfocus", "--sync", self.window)
        self._do("key", "--clearmodifiers", "--delay", 40, *names)

    def dialog(self, name):
        """Wait for a dialogue to be seen, and return it."""
        look = ("search", "--onlyvisible", "--name", f"^{name}")
        return self.wait(lambda: self._do(*look).stdout.split(), f"dialogue {name}")[0]

    def enter_in_dialog(self, name, path):
        """Type a path into a dialogue that asks for one."""
        self._do("windowfocus", "--sync", self.dialog(name))
        self._do("type", "--delay", 2, str(path))
        self._do("key", "Return")
        self._gone(name)

    def _gone(self, name):
        look = ("search", "--onlyvisible", "--name", f"^{name}")
        self.wait(lambda: not self._do(*look).stdout.split(), f"the end of the dialogue {name}")

    # -- by mouse: places are asked for by what a screen reader calls them

    def _told(self, name):
        self.process.stdin.write(f"{name}\n")
        self.process.stdin.flush()
        answer = self.process.stdout.readline()
        assert answer, self.process.stderr.read()
        return json.loads(answer)

    def _place(self, name):
        """Ask where a thing is, once the clicks made until now have come to something."""
        deadline = time.monotonic() + FEW_CLICKS_S
        while self._told("")["clicks"] < self.clicks and time.monotonic() < deadline:
            time.sleep(0.02)
        told = self._told(name)
        self.clicks = told["clicks"]
        return told["place"]

    def sees(self, name):
        """Tell whether something of this name is on the screen."""
        return self._told(name)["place"] is not None

    def _uncovered(self, name):
        """Ask where a thing is; what lies over it for long, such as a message, is a fault."""
        deadline = time.monotonic() + COVERED_S
        while (told := self._place(name)) and told["covered"]:
            assert time.monotonic() < deadline, f"“{name}” is covered by {told['covered']}"
            time.sleep(0.1)
        return told

    def place(self, name, at=(0.5, 0.5)):
        """Wait for a thing, turn the wheel until it is seen, and return a place in it, in pixels.

        Parameters
        ----------
        name : str
            Its accessible name; ``*`` stands for any words, ``A > B`` for B in what is called A.
        at : pair of float
            Where in it, in shares of its width and height.
        """
        for _ in range(WHEEL_STEPS):
            told = self.wait(lambda: self._uncovered(name), f"“{name}” on the screen")
            left, top, wide, high = told["whole"]
            spot = (round(left + at[0] * (wide - 1)), round(top + at[1] * (high - 1)))
            seen_left, seen_top, seen_wide, seen_high = told["seen"]
            across = 0 <= spot[0] - seen_left < seen_wide
            if across and 0 <= spot[1] - seen_top < seen_high:
                return spot
            assert "scrolled" in told, f"“{name}” lies outside of what is seen: {told}"
            x, y, width, height = told["scrolled"]
            wheel = 4 if spot[1] < y else 5
            self._do("mousemove", x + width // 2, y + height // 2, "click", wheel)
            time.sleep(0.05)
        raise AssertionError(f"“{name}” cannot be scrolled to")

    def click(self, name, at=(0.5, 0.5), times=1):
        """Press and let go."""
        self._do("mousemove", *self.place(name, at), "click", "--repeat", times, "--delay", 60, 1)
        self.clicks += times

    def choose(self, name, entry):
        """Open a list to choose from, at its arrow, and choose an entry of it."""
        self.click(name, at=(0.97, 0.5))
        self.clicks -= 1  # it opens at the press, and the mouse is let go over the list
        self.click(entry)

    def drag(self, name, start, end, steps=8):
        """Press, move and let go, between places in a thing."""
        spots = [self.place(name, at) for at in (start, end)]
        self._do("mousemove", *spots[0], "mousedown", 1)
        for k in range(1, steps + 1):
            spot = (round(a + (b - a) * k / steps) for a, b in zip(*spots, strict=True))
            self._do("mousemove", *spot)
            time.sleep(0.03)
        self._do("mouseup", 1)
        self.clicks += 1

    def saved(self, pattern):
        """Wait for a file to be saved, and return it."""
        return self.wait(lambda: next(iter(self.folder.glob(pattern)), None), pattern)

    def resident_kb(self):
        status = Path(f"/proc/{self.process.pid}/status").read_text()
        line = next(line for line in status.splitlines() if line.startswith("VmRSS"))
        return int(line.split()[1])

    def close(self):
        """Close the window as a person does, and see that it ends well."""
        self.key("ctrl+q")
        assert self.process.wait(PATIENCE_S) == 0
        assert "Traceback" not in self.process.stderr.read()


@pytest.fixture
def open_window(screen, tmp_path):
    """Opens the window by its command; yields hands."""
    processes = []
    out = tmp_path / "out"

    def start(*args, **remembered):
        config = tmp_path / "config" / "strokewise"
        config.mkdir(parents=True, exist_ok=True)
        remembers = {"export_folder": str(out), **remembered}
        (config / "window.json").write_text(json.dumps(remembers))
        env = {
            **os.environ,
            "DISPLAY": screen,
            "QT_QPA_PLATFORM": "xcb",
            "XDG_CONFIG_HOME": str(tmp_path / "config"),
        }
        process = subprocess.Popen(
            [sys.executable, str(TOLD_WINDOW), *map(str, args)],
            env=env,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        processes.append(process)
        return Hands(screen, process, out)

    yield start
    for process in processes:
        if process.poll() is None:
            process.kill()
        process.wait()
        for pipe in (process.stdin, process.stdout, process.stderr):
            pipe.close()


@pytest.fixture
def bench():
    """Runs the bench engine live on a network port; may be pulled out and put back."""
    running = []

    def start(scenario="hand-turned", port=0):
        process = subprocess.Popen(
            [
                sys.executable,
                "-m",
                "strokewise.gui",
                "simulate",
                "--live",
                "--scenario",
                scenario,
                "--socket",
                str(port),
            ],
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        running.append(process)
        process.port = process.stdout.readline().split()[-1]
        return process

    yield start
    for process in running:
        process.kill()
        process.wait()
        process.stdout.close()


@pytest.fixture(scope="session")
def recording(tmp_path_factory):
    """A short recording of the bench engine, made by its command."""
    path = tmp_path_factory.mktemp("bench") / "bench.swr"
    subprocess.run(
        [sys.executable, "-m", "strokewise.gui", "simulate", str(path), "--scenario", "cranked"],
        check=True,
        stdout=subprocess.DEVNULL,
    )
    return path
