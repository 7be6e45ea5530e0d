"""Signals reach their listener although the main thread is busy, and handlers are put back."""

from __future__ import annotations

import os
import signal
import threading

import pytest

from acquire.signal_watch import SignalWatch, watched_signals

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals of POSIX systems")
WAIT_S = 20.0


@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM", "SIGHUP", "SIGQUIT", "SIGTSTP"])
def test_each_watched_signal_is_heard_from_another_thread(name: str) -> None:
    heard: list[tuple[str, str]] = []
    event = threading.Event()

    def listen(signal_name: str) -> None:
        heard.append((signal_name, threading.current_thread().name))
        event.set()

    with SignalWatch(listen):
        os.kill(os.getpid(), getattr(signal, name))
        assert event.wait(WAIT_S)
    assert heard == [(name, "signal watch")]


def test_the_main_thread_need_not_run_any_python_for_a_signal_to_be_heard() -> None:
    event = threading.Event()
    heard_while_blocked: list[bool] = []
    lock = threading.Lock()
    lock.acquire()

    def listen(_name: str) -> None:
        heard_while_blocked.append(lock.locked())
        event.set()
        lock.release()

    with SignalWatch(listen):
        threading.Timer(0.05, os.kill, (os.getpid(), signal.SIGTERM)).start()
        assert lock.acquire(timeout=WAIT_S), "the main thread waits in a C call meanwhile"
    assert heard_while_blocked == [True]


def test_ctrl_z_stops_first_and_suspends_then() -> None:
    order: list[str] = []
    event = threading.Event()

    def suspend() -> None:
        order.append("suspended")
        event.set()

    with SignalWatch(lambda name: order.append(name), on_suspend=suspend):
        os.kill(os.getpid(), signal.SIGTSTP)
        assert event.wait(WAIT_S)
    assert order == ["SIGTSTP", "suspended"]


def test_handlers_and_wake_up_descriptor_are_put_back() -> None:
    before = {number: signal.getsignal(number) for number in watched_signals()}
    with SignalWatch(lambda _name: None):
        assert signal.getsignal(signal.SIGTERM) is not before[signal.SIGTERM]
    assert {number: signal.getsignal(number) for number in watched_signals()} == before
    assert signal.set_wakeup_fd(-1) == -1
