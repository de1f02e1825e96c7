"""Comparison with the files in ``tests/gold``; see the README there."""

from __future__ import annotations

from pathlib import Path

from tests.places import TESTS

GOLD = TESTS / "gold"


def require_gold(name: str, actual: str, folder: Path = GOLD) -> None:
    """Compare with a gold file; on a difference save the actual output beside it and say what to do."""
    expected, beside = folder / name, folder / f"{name}.actual"
    if expected.exists() and expected.read_bytes() == actual.encode():
        beside.unlink(missing_ok=True)
        return
    beside.write_bytes(actual.encode())
    raise AssertionError(
        f"{name} differs from the gold file. Look: diff {expected} {beside}\n"
        f"If the new output is what you want: mv {beside} {expected}"
    )
