"""A second JCAMP-DX decoder, slow and obvious, as the oracle of the fast one.

It walks through a table character by character, with the tables of pseudo-digits typed in again from
McDonald and Wilks (1988), table VII, and imports nothing of the project.
"""

from __future__ import annotations

import math

SQZ = {"@": 0, "A": 1, "B": 2, "C": 3, "D": 4, "E": 5, "F": 6, "G": 7, "H": 8, "I": 9}
SQZ |= {"a": -1, "b": -2, "c": -3, "d": -4, "e": -5, "f": -6, "g": -7, "h": -8, "i": -9}
DIF = {"%": 0, "J": 1, "K": 2, "L": 3, "M": 4, "N": 5, "O": 6, "P": 7, "Q": 8, "R": 9}
DIF |= {"j": -1, "k": -2, "l": -3, "m": -4, "n": -5, "o": -6, "p": -7, "q": -8, "r": -9}
DUP = {"S": 1, "T": 2, "U": 3, "V": 4, "W": 5, "X": 6, "Y": 7, "Z": 8, "s": 9}


def split_tokens(line: str) -> list[tuple[str, float]]:
    """Kind ("value", "difference", "repeat") and number of every token of one line."""
    tokens: list[tuple[str, float]] = []
    i = 0
    while i < len(line):
        c = line[i]
        if c in " \t,;":
            i += 1
            continue
        if c == "?":
            tokens.append(("value", math.nan))
            i += 1
            continue
        j = i + 1
        while j < len(line) and (line[j].isdigit() or line[j] == "."):
            j += 1
        digits = line[i + 1 : j]
        if (c in SQZ and c.isalpha()) or c == "@":
            tokens.append(("value", _signed(SQZ[c], digits)))
        elif c in DIF:
            tokens.append(("difference", _signed(DIF[c], digits)))
        elif c in DUP:
            tokens.append(("repeat", _signed(DUP[c], digits)))
        else:
            tokens.append(("value", float(line[i:j])))
        i = j
    return tokens


def _signed(lead: int, digits: str) -> float:
    number = float(str(abs(lead)) + digits)
    return -number if lead < 0 else number


def decode(lines: list[str]) -> tuple[list[float], int]:
    """Ordinates of an (X++(Y..Y)) table without exponents, and the number of check ordinates."""
    ordinates: list[float] = []
    checks = 0
    ended_in_difference = False
    for line in lines:
        tokens = split_tokens(line)
        if not tokens:
            continue
        tokens = tokens[1:]  # the abscissa
        if ended_in_difference and tokens:
            kind, check = tokens.pop(0)
            if kind != "value" or check != ordinates[-1]:
                raise ValueError(f"check ordinate {check} after {ordinates[-1]}")
            checks += 1
            if tokens and tokens[0][0] == "repeat":  # a check ordinate that is also repeated
                ordinates += [check] * (int(tokens.pop(0)[1]) - 1)
        ended_in_difference = False
        last: tuple[str, float] | None = None
        for kind, number in tokens:
            if kind == "repeat":
                assert last is not None
                for _ in range(int(number) - 1):
                    ordinates.append(ordinates[-1] + last[1] if last[0] == "difference" else last[1])
                continue
            ordinates.append(ordinates[-1] + number if kind == "difference" else number)
            last = (kind, number)
            ended_in_difference = kind == "difference"
    return ordinates, checks
