"""Progress: silent for short work, plain lines where there is no terminal, a bar that wipes itself away."""

import io

import pytest

from spectra.cli import progress
from spectra.cli.progress import Meter


class Screen(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self):
        return True


class Clock:
    """Seconds that pass only when told to."""

    def __init__(self):
        self.now = 0.0

    def monotonic(self):
        return self.now


@pytest.fixture
def clock(monkeypatch):
    clock = Clock()
    monkeypatch.setattr(progress, "time", clock)
    return clock


@pytest.mark.parametrize("stream", [io.StringIO, Screen])
def test_short_work_stays_silent(clock, stream):
    out = stream()
    with Meter(stream=out) as meter:
        for done in range(100):
            clock.now += 0.009
            meter("reading", done, 100)
    assert out.getvalue() == ""


def test_long_work_writes_a_line_now_and_then(clock):
    out = io.StringIO()
    with Meter(stream=out) as meter:
        for done in range(100):
            clock.now += 0.125
            meter("reading", done, 100)
    # After 1 s, 6 s and 11 s of 12.5 s; the call at 1 s is the eighth and has seven parts behind it.
    assert out.getvalue() == "reading: 7 of 100\nreading: 47 of 100\nreading: 87 of 100\n"


@pytest.mark.parametrize("stream", [io.StringIO, Screen])
def test_quiet_is_quiet(clock, stream):
    out = stream()
    with Meter(quiet=True, stream=out) as meter:
        clock.now = 60.0
        meter("reading", 1, 2)
    assert out.getvalue() == ""


def test_on_a_terminal_a_bar_names_the_phase_and_goes_away(clock):
    out = Screen()
    with Meter(stream=out) as meter:
        clock.now = 2.0
        meter("reading", 1, 4)
        meter("reading", 2, 4)
        meter("judging", 0, 3)
        assert meter.bar.tasks[0].finished, "a phase begins when the one before is done"
    assert "reading" in out.getvalue()
    assert "judging" in out.getvalue()
    assert out.getvalue().rstrip().endswith("\x1b[2K"), "the last act is to erase the lines"
