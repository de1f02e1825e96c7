"""Where things lie in the checkout."""

from pathlib import Path

TESTS = Path(__file__).parent
ROOT = TESTS.parent
DATA = TESTS / "data"
EXAMPLES = ROOT / "examples"
