from pathlib import Path

import pytest

from tests.goldfiles import require_gold


def test_a_difference_is_saved_with_instructions(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_text("old\n")
    with pytest.raises(AssertionError, match=r"a\.txt differs .*\n.*mv .*a\.txt\.actual"):
        require_gold("a.txt", "new\n", tmp_path)
    assert (tmp_path / "a.txt.actual").read_text() == "new\n"
    (tmp_path / "a.txt.actual").rename(tmp_path / "a.txt")
    require_gold("a.txt", "new\n", tmp_path)


def test_a_missing_gold_file_is_a_difference(tmp_path: Path) -> None:
    with pytest.raises(AssertionError, match="differs from the gold file"):
        require_gold("b.txt", "new\n", tmp_path)
