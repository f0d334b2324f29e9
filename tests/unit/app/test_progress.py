"""The line on progress: silent for a second, then what, share and seconds left; never on standard output."""

from __future__ import annotations

import io
import time

import pytest

from witnessmark.cli import progress
from witnessmark.cli.progress import ProgressLine


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.fixture(autouse=True)
def _soon(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("_QUIET_S", "_EVERY_S", "_PLAIN_EVERY_S"):
        monkeypatch.setattr(progress, name, 0.01)


def wait_for(stream: io.StringIO, text: str) -> None:
    until = time.monotonic() + 10.0
    while text not in stream.getvalue():
        assert time.monotonic() < until
        time.sleep(0.005)


def test_what_is_over_at_once_is_not_spoken_of(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(progress, "_QUIET_S", 60.0)
    stream = io.StringIO()
    with ProgressLine(stream) as say:
        say("Reading idle.csv", 0.5)
    assert stream.getvalue() == ""


def test_elsewhere_than_on_a_terminal_lines_are_added() -> None:
    stream = io.StringIO()
    with ProgressLine(stream) as say:
        say("Reading idle.csv", 0.02)
        wait_for(stream, "Reading idle.csv: 2 %.\n")
        say("Weighing the causes")
        wait_for(stream, "Weighing the causes … 0 s so far.\n")
    assert "\r" not in stream.getvalue()


def test_on_a_terminal_the_line_is_written_over_and_taken_away() -> None:
    stream = Terminal()
    with ProgressLine(stream) as say:
        say("Reading idle.csv", 0.62)
        wait_for(stream, "Reading idle.csv: 62 %, about 0 s left.")
    assert stream.getvalue().endswith("\r")
    assert "\n" not in stream.getvalue()
    assert stream.getvalue().rstrip("\r").endswith(" ")


def test_seconds_left_follow_from_the_share(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = [100.0]
    monkeypatch.setattr(progress.time, "monotonic", lambda: clock[0])
    say = ProgressLine(io.StringIO())
    say("Reading cranking.csv", 0.0)
    clock[0] = 110.0
    say("Reading cranking.csv", 0.625)
    assert say.line() == "Reading cranking.csv: 62 %, about 6 s left."
    say("Weighing the causes")
    clock[0] = 111.0
    assert say.line() == "Weighing the causes … 11 s so far."


def test_nothing_said_is_nothing_shown() -> None:
    assert ProgressLine(io.StringIO()).line() == ""


def test_a_listener_that_left_does_not_end_the_work() -> None:
    stream = io.StringIO()
    stream.close()
    with ProgressLine(Terminal()) as say:
        say._stream = stream
        say("Reading idle.csv", 0.5)
        time.sleep(0.05)
