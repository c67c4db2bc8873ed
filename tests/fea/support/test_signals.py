"""Signals that wait: heard once, after the block, by the handler that was there."""

from __future__ import annotations

import signal
import subprocess
import sys
import threading

import pytest
from command_line import environment

from platestack.fea.support.signals import STOPPING, waiting


class Heard(BaseException):
    """What the handler of these tests raises."""


@pytest.fixture(autouse=True)
def raising():
    def handler(number, _):
        raise Heard(number)

    before = {number: signal.signal(number, handler) for number in STOPPING}
    yield handler
    for number, old in before.items():
        signal.signal(number, old)


@pytest.mark.parametrize("number", STOPPING)
def test_a_signal_is_heard_after_the_block(number, raising):
    done = []

    def block():
        with waiting():
            signal.raise_signal(number)
            signal.raise_signal(number)
            done.append("all of it")

    with pytest.raises(Heard) as caught:
        block()
    assert done
    assert caught.value.args == (number,)
    assert all(signal.getsignal(n) is raising for n in STOPPING)


def test_what_fails_in_the_block_gives_the_handlers_back(raising):
    with pytest.raises(ImportError), waiting():
        raise ImportError
    assert all(signal.getsignal(n) is raising for n in STOPPING)


def test_signals_that_are_ignored_stay_so():
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with waiting():
        assert signal.getsignal(signal.SIGINT) is signal.SIG_IGN
        signal.raise_signal(signal.SIGINT)


def test_in_another_thread_nothing_changes(raising):
    found = []

    def look():
        with waiting():
            found.append(signal.getsignal(signal.SIGINT))

    thread = threading.Thread(target=look)
    thread.start()
    thread.join()
    assert found == [raising]


HURRIED = """
import signal, sys, threading, time
from platestack.fea.support.signals import load_pyvista

def handler(number, _):
    signal.signal(number, signal.SIG_IGN)
    raise InterruptedError

def hurry():
    while "vtkmodules" not in sys.modules:
        time.sleep(0.0001)
    while not came:
        signal.pthread_kill(main, signal.SIGINT)
        time.sleep(0.0005)

came, main = [], threading.main_thread().ident
signal.signal(signal.SIGINT, handler)
threading.Thread(target=hurry).start()
try:
    load_pyvista()
except InterruptedError:
    came.append("interrupted")
print(*came, "pyvista.plotting" in sys.modules)
"""


def test_vtk_is_loaded_whole_whatever_comes():
    """An exception amid its imports crashes the process (VTK 9.7.2, in one of four here)."""
    done = subprocess.run(
        [sys.executable, "-c", HURRIED], env=environment(), capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    assert (done.returncode, done.stdout, done.stderr) == (0, "interrupted True\n", "")
