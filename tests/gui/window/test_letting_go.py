"""Garbage that refers to itself goes in the window's thread, however much another makes."""

import gc
import threading

from strokewise.gui.window.letting_go import LettingGo, let_go


class Ring:
    """Refers to itself, as a window and its parts do, and tells where it goes."""

    def __init__(self, went):
        self.me, self._went = self, went

    def __del__(self):
        self._went.append(threading.current_thread())


def test_a_thread_aside_lets_go_of_nothing(qtbot):
    went = []

    def make():
        for _ in range(20 * gc.get_threshold()[0]):
            Ring(went)

    aside = threading.Thread(target=make)
    aside.start()
    aside.join()
    assert went == []  # it made enough for Python to have looked twenty times
    qtbot.waitUntil(lambda: bool(went), timeout=10_000)
    assert set(went) == {threading.main_thread()}


def test_what_lasted_for_long_goes_in_the_end():
    went = []
    old = Ring(went)
    gc.collect(0)
    gc.collect(1)  # by now it is of the oldest generation, which is looked through last
    del old
    for _ in range(2 * (gc.get_threshold()[1] + 1) * (gc.get_threshold()[2] + 1)):
        kept = [[] for _ in range(2 * gc.get_threshold()[0])]
        let_go()
        if went:
            break
        del kept
    assert went == [threading.main_thread()]


def test_one_that_ends_within_another_leaves_it_to_that(qtbot):
    """A window that is shown and closed within the tests' own; else any thread let go after it."""
    assert not gc.isenabled()
    LettingGo().end()
    assert not gc.isenabled()
    gc.enable()
    within = LettingGo()
    assert not gc.isenabled()
    within.end()
    assert gc.isenabled()
    gc.disable()
