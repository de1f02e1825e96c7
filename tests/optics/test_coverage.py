"""A small version of ``tests.opticstrial``: the stated optical intervals hold the truth."""

import numpy as np

from tests.opticstrial import draw, run


def test_intervals_hold_the_truth():
    rng = np.random.default_rng(11)
    held: list[bool] = []
    for _ in range(12):
        end, results = run(draw(rng))
        assert end == "solved"
        held += [value for name, values in results.items() if "strongest" not in name for value in values]
    # 12 cases of about seven bands, strongly alike within a case; 500 cases are in the trial itself.
    assert len(held) > 100
    assert 0.88 < np.mean(held) < 0.995
