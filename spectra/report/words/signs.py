"""Signs and letters of finished text: set for a page, made safe for a terminal, a drawing and a file name."""

from __future__ import annotations

import re

_VIBRATIONS = "(?:a?symmetric |in-plane |out-of-plane )?(?:stretch|wag|deformation|rock|twist|bend|scissor)"


SIGNS = (
    (re.compile(r"cm-1"), "cm⁻¹"),
    (re.compile(rf"(?<=\b[CNSP][HFO])2(?= {_VIBRATIONS})"), "₂"),
    (re.compile(rf"(?<=\b[CNSP][HFO])3(?= {_VIBRATIONS})"), "₃"),
    (re.compile(r"(?<=\d )\+/- (?=\d)"), "± "),
    (re.compile(r"\+/- ?(?=\d)"), "±"),
    (re.compile(r"\+/-"), "±"),
    (re.compile(r"(?<![\w.-])-(?=\d)"), "−"),
)


def visible(text: str, instead: str = "") -> str:
    r"""Replace what is no visible letter: a name from a file must not steer a terminal or break a drawing.

    Examples
    --------
    >>> visible("film\x1b[2J"), visible("a\x00b", "?")
    ('film\\x1b[2J', 'a?b')
    """
    return "".join(letter if letter.isprintable() else instead or repr(letter)[1:-1] for letter in text)


def file_name(text: str) -> str:
    """Return what is left of a name for a file: letters, digits and underscores, 24 at most.

    Examples
    --------
    >>> file_name("acid, dried / 2"), file_name("ゼラチン"), file_name("<script>")
    ('acid_dried_2', 'ゼラチン', 'script')
    """
    kept = "".join(letter if letter.isalnum() else "_" for letter in text)
    return re.sub("_+", "_", kept).strip("_")[:24].strip("_") or "sample"


SUBSCRIPTS = str.maketrans("23456789", "₂₃₄₅₆₇₈₉")


def chemical(text: str) -> str:
    """Set the numbers of a formula low, and the charge of an ion high.

    Examples
    --------
    >>> chemical("CH2 wag + NH3+ deformation"), chemical("COO- stretch"), chemical("amide I 1654")
    ('CH₂ wag + NH₃⁺ deformation', 'COO⁻ stretch', 'amide I 1654')
    """
    text = re.sub(r"(?<=[A-Z])[2-9](?![0-9.])", lambda digit: digit[0].translate(SUBSCRIPTS), text)
    return re.sub(r"(?<=[A-Z₂₃₄])([+-])(?= |$)", lambda sign: {"+": "⁺", "-": "⁻"}[sign[1]], text)


def typeset(text: str) -> str:
    """Set the signs that plain text spells out: cm⁻¹, ±, the true minus.

    Examples
    --------
    >>> typeset("-13.8 cm-1 (-16.1 to -11.5 cm-1), margin +/- 4 cm-1, s-1")
    '−13.8 cm⁻¹ (−16.1 to −11.5 cm⁻¹), margin ±4 cm⁻¹, s-1'
    """
    for pattern, sign in SIGNS:
        text = pattern.sub(sign, text)
    return text
