"""What names of files and folders say: a role, a specimen, a spot; in the larger languages of Europe.

Common practice, no source: words as laboratories write them into names.
"""

from __future__ import annotations

import re
from pathlib import Path

# Several words first: "without coating" is bare, though it names a coating.
_BARE_PHRASES = (
    r"(?:without|no|not|non|sans|sin|sem|senza|zonder|ohne)\W+(?:coat\w*|treat\w*|layer|film|beschicht\w*"
    r"|behandl\w*|rev[eê]t\w*|trait\w*|recub\w*|trat\w*|revest\w*|rivest\w*|bekle\w*|behande\w*)",
    r"as\W+received|wie\W+erhalten|tel\W+quel|come\W+ricevuto",
    r"neat\W+(?:substrate|mesh|gauze|foil|tissue)|(?:substrate|mesh|gauze|foil)\W+only",
)

ROLE_WORDS = {
    "bare": {
        *("bare", "substrate", "uncoated", "untreated", "blank", "control", "controls", "pristine", "virgin"),
        *(
            "unmodified",
            "naked",
            "unbehandelt",
            "unbeschichtet",
            "substrat",
            "blindprobe",
            "kontrolle",
            "nackt",
        ),
        *("nu", "nue", "vierge", "témoin", "temoin", "contrôle", "controle", "desnudo", "virgen", "sustrato"),
        *("nudo", "vergine", "controllo", "substrato", "onbehandeld", "onbedekt", "substraat", "obehandlad"),
        *("ubehandlet", "niepowlekany", "podłoże"),
    },
    "neat": {
        *(
            "neat",
            "pure",
            "coating",
            "powder",
            "rein",
            "reinstoff",
            "pulver",
            "beschichtung",
            "pur",
            "poudre",
        ),
        *("revêtement", "revetement", "puro", "pura", "polvo", "recubrimiento", "polvere", "rivestimento"),
        *("zuiver", "poeder", "revestimento", "proszek"),
    },
    "coated": {
        *("coated", "treated", "sprayed", "dipped", "beschichtet", "behandelt", "enduit", "revêtu", "traité"),
        *("recubierto", "tratado", "rivestito", "trattato", "gecoat", "behandeld", "revestido"),
    },
}

_SPOT = r"spots?|areas?|points?|pts?|pos(?:ition)?|places?|sites?|loc(?:ation)?|meas(?:urement)?|scans?|runs?"

_SPOT += r"|rep(?:eat|licate|l)?s?|stelle|punkt|messung|zona|punto|endroit|mesure|ponto|plek|meting"

_PIECE = (
    r"specimens?|samples?|pieces?|probe|prüfling|stück|échantillon|echantillon|éprouvette|muestra|probeta"
)

_PIECE += r"|campione|provino|amostra|monster|s|p|nr|no"

_SPOT_LAST = re.compile(rf"[\s_.-]*(?:{_SPOT})[\s_-]*\d+$", re.IGNORECASE)

_NUMBER_LAST = re.compile(r"[\s_.-]+\d+$")

_PIECE_LAST = re.compile(rf"(?:^|[\s_.-]+)(?:{_PIECE})[\s_-]*\d+$", re.IGNORECASE)


def role_of(key: str) -> str:
    """Return the role that the words of a name say, or nothing.

    Examples
    --------
    >>> role_of("mesh without coating"), role_of("gelatin powder"), role_of("Folie unbehandelt"), role_of("x")
    ('bare', 'neat', 'bare', '')
    """
    spaced = re.sub(r"[_.\-/]+", " ", key.lower())
    if any(re.search(rf"\b(?:{phrase})", spaced) for phrase in _BARE_PHRASES):
        return "bare"
    words = set(re.findall(r"[^\W\d_]+", spaced))
    return next((role for role, known in ROLE_WORDS.items() if words & known), "")


def specimen_of(file: str) -> str:
    """Return a file's name without its suffix and what counts its spot.

    Examples
    --------
    >>> specimen_of("a/S1_02.csv"), specimen_of("specimen1_area0_spot1.txt")
    ('S1', 'specimen1')
    """
    stem = Path(file).stem
    shorter = _without_spots(stem)
    return shorter if shorter != stem else _NUMBER_LAST.sub("", stem)


def _without_spots(stem: str) -> str:
    """Take off every word for a spot with its number, from the end."""
    while (shorter := _SPOT_LAST.sub("", stem)) != stem and shorter:
        stem = shorter
    return stem


def counts_spots(file: str) -> bool:
    """Whether a file's name says in words that it is one of several spots."""
    stem = Path(file).stem
    return _without_spots(stem) != stem


def family_of(file: str) -> str:
    """Return a file's name without what counts its specimen and spot.

    Examples
    --------
    >>> family_of("wet_specimen1_spot2.csv"), family_of("aq_1.csv")
    ('wet', 'aq')
    """
    stem = specimen_of(file)
    return _PIECE_LAST.sub("", stem) or "coated"
