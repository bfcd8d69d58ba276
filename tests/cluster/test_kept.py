"""A stop while a chunk is being kept waits until it is whole."""

from __future__ import annotations

import os
import signal
import threading

import pytest

from backbearing.cluster.kept import no_stop


def test_a_stop_waits_and_then_comes() -> None:
    usual = signal.signal(signal.SIGINT, signal.default_int_handler)
    done = []

    def work() -> None:
        with no_stop():
            os.kill(os.getpid(), signal.SIGINT)
            done.append("whole")

    try:
        with pytest.raises(KeyboardInterrupt):
            work()
        assert done == ["whole"]
        assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
    finally:
        signal.signal(signal.SIGINT, usual)


def test_another_thread_goes_on_as_it_is() -> None:
    done = []

    def work() -> None:
        with no_stop():
            done.append("whole")

    thread = threading.Thread(target=work)
    thread.start()
    thread.join()
    assert done == ["whole"]
