"""What a comma means: decided by evidence in the numbers themselves.

``0,5`` and ``1234,5`` cannot be thousands. Without evidence both readings are shown and none is taken.
"""

from __future__ import annotations

import re

from spectra.errors import AmbiguityError


def decimal_evidence(block: str, mark: str) -> bool:
    """Whether a mark separates decimals somewhere, since it cannot separate thousands there.

    Examples
    --------
    >>> decimal_evidence("4000,5", ","), decimal_evidence("0,500", ","), decimal_evidence("4,000", ",")
    (True, True, False)
    """
    mark = re.escape(mark)
    pattern = rf"(?<!\d)0\d*{mark}\d|\d{{4}}{mark}\d|{mark}\d{{1,2}}(?!\d)|{mark}\d{{4}}|(?<!\d){mark}\d"
    return re.search(pattern, block, re.ASCII) is not None


def require_no_other_mark(shown: tuple[bool, bool], mark: str, where: str) -> None:
    """Require that the numbers allow the decimal mark that a person states.

    Parameters
    ----------
    shown : tuple of bool
        Whether comma and point separate decimals somewhere.
    mark
        What is stated.
    where
        For the message.

    Raises
    ------
    AmbiguityError
        If the other mark separates decimals somewhere, and the stated one nowhere.
    """
    other = "." if mark == "," else ","
    if shown == (other == ",", other == "."):
        raise AmbiguityError(
            f"{where}: the decimal mark is stated as {mark!r}, but {other!r} separates decimals in the "
            f"numbers; state decimal = {other!r}"
        )


def comma_message(block: str, where: str) -> str:
    """Show both readings of the first number with a comma."""
    found = re.search(r"\d{1,3}(?:,\d{3})+", block)
    shown = found[0] if found else "1,000"
    return (
        f"{where}: {shown!r} is {shown.replace(',', '')} if the comma marks thousands, and "
        f"{shown.replace(',', '.', 1)} if it marks decimals; state it: "
        'decimal = "," under [files] of the study, or --decimal on the command line'
    )
