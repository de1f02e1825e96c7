"""The pseudo-digits of JCAMP-DX: one character for delimiter, sign and leading digit.

McDonald and Wilks, Appl. Spectrosc. 42 (1988) 151, doi:10.1366/0003702884428734, table VII.
"""

from __future__ import annotations

# Pseudo-digit -> the sign and digit it stands for.
SQZ_DIGITS = {b"@": b"0"} | {
    letter.encode(): f"{sign}{i}".encode()
    for sign, letters in (("", "ABCDEFGHI"), ("-", "abcdefghi"))
    for i, letter in enumerate(letters, 1)
}

DIF_DIGITS = {b"%": b"0"} | {
    letter.encode(): f"{sign}{i}".encode()
    for sign, letters in (("", "JKLMNOPQR"), ("-", "jklmnopqr"))
    for i, letter in enumerate(letters, 1)
}

DUP_DIGITS = {letter.encode(): str(i).encode() for i, letter in enumerate("STUVWXYZs", 1)}
