"""A small share of the mutated files of ``tests.fuzz``, and proof that it notices failures."""

from __future__ import annotations

import pytest

from tests import fuzz


def test_mutated_files_end_in_spectra_or_our_errors():
    shown: list[str] = []
    counts = fuzz.run(range(1_000_000, 1_000_600), show=shown.append)
    assert not shown
    assert counts["failure"] == 0
    assert sum(counts.values()) == 600
    assert counts["spectra"] > 30  # the mutations leave something to read
    assert counts["FormatError"] > 100
    assert counts["PromiseError"] > 5


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (lambda _: 1 / 0, "ZeroDivisionError"),
        (lambda _: (), "reading gave"),
        (lambda _: _forever(), "reading took more than"),
    ],
    ids=["crash", "nothing", "hang"],
)
def test_a_reader_that_fails_is_noticed(wrong, said, monkeypatch):
    monkeypatch.setattr(fuzz, "read", wrong)
    monkeypatch.setattr(fuzz, "LONGEST_SECONDS", 0.2)
    shown: list[str] = []
    assert fuzz.run(range(2), show=shown.append)["failure"] == 2
    assert all(said in text for text in shown)


def _forever():
    while True:
        pass


def test_mutated_files_can_be_made_again():
    files = fuzz.seeds()
    assert [fuzz.mutated(i, 7, files) for i in range(30)] == [fuzz.mutated(i, 7, files) for i in range(30)]
