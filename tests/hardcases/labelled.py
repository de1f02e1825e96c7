"""Open formats with labels: JCAMP-DX and AnIML."""

from __future__ import annotations

import itertools

import numpy as np

from tests.hardcases.making import A, Array, B, T, X, text


def labelled(y: Array, *, x: Array = X, **labels: str) -> str:
    """Return a block of the JCAMP-DX format, in pairs of lines, as its definition shows them."""
    known = {
        "TITLE": "film",
        "JCAMP-DX": "4.24",
        "DATA TYPE": "INFRARED SPECTRUM",
        "ORIGIN": "test",
        "OWNER": "test",
        "XUNITS": "1/CM",
        "YUNITS": "ABSORBANCE",
        "XFACTOR": "1",
        "YFACTOR": "1E-6",
        "FIRSTX": f"{x[0]:.4f}",
        "LASTX": f"{x[-1]:.4f}",
        "NPOINTS": str(x.size),
    }
    known |= {name.replace("_", " "): value for name, value in labels.items()}
    scale = float(known["YFACTOR"])
    lines = [
        f"{x[i] / float(known['XFACTOR']):.4f} " + " ".join(f"{v / scale:.0f}" for v in y[i : i + 6])
        for i in range(0, x.size, 6)
    ]
    head = "".join(f"##{name}= {value}\n" for name, value in known.items() if value)
    return head + "##XYDATA= (X++(Y..Y))\n" + "\n".join(lines) + "\n##END=\n"


def linked(*blocks: str, count: int | None = None) -> str:
    """Return a LINK block around others."""
    return (
        f"##TITLE= all\n##JCAMP-DX= 4.24\n##DATA TYPE= LINK\n##BLOCKS= {count or len(blocks)}\n"
        + "".join(blocks)
        + "##END=\n"
    )


text("plain.jdx", "read", labelled(A), A)
text(
    "comments.jdx",
    "read",
    labelled(A).replace("##XUNITS", "$$ made by hand\n##XUNITS").replace("##END", "$$ the end\n##END"),
    A,
)
text(
    "spaced_labels.jdx",
    "read",
    labelled(A)
    .replace("##XYDATA", "##XY DATA")
    .replace("##FIRSTX", "##FIRST X")
    .replace("##NPOINTS", "##N POINTS"),
    A,
)
text("no_link.jdx", "read", labelled(A) + labelled(B), A, B)
text("linked.jdx", "read", linked(labelled(A), labelled(B)), A, B)
text("linked_nested.jdx", "read", linked(labelled(A), linked(labelled(B), labelled(A)), count=2), A, B, A)
text("linked_raman.jdx", "read", linked(labelled(A), labelled(B, DATA_TYPE="RAMAN SPECTRUM")), A)
text("raman.jdx", "refuse", labelled(A, DATA_TYPE="RAMAN SPECTRUM"))
text("percent.jdx", "read or refuse", labelled(100 * T, YUNITS="TRANSMITTANCE"), A)
text("percent_units.jdx", "read", labelled(100 * T, YUNITS="% TRANSMITTANCE"), A)
text("percent_as_absorbance.jdx", "refuse or warn", labelled(100 * T))
text("transmittance_as_absorbance.jdx", "refuse or warn", labelled(T))
text("absorbance_as_transmittance.jdx", "refuse or warn", labelled(A, YUNITS="TRANSMITTANCE"))
text("rising.jdx", "read", labelled(A[::-1], x=X[::-1]), A)
text(
    "one_line_lost.jdx",
    "refuse",
    "\n".join(line for i, line in enumerate(labelled(A).splitlines()) if i != 100),
)
text("cut_off.jdx", "refuse", labelled(A)[:9000])
text(
    "factor_wrong.jdx",
    "refuse or warn",
    labelled(A, MAXY=f"{A.max():.6f}").replace("YFACTOR= 1E-6", "YFACTOR= 1E-5"),
)
text("latin1_title.jdx", "read", labelled(A, TITLE="Gelatine auf Tr\u00e4ger").encode("latin-1"), A)
text("mac_breaks.jdx", "read", labelled(A).replace("\n", "\r"), A)
text("arbitrary.jdx", "refuse or warn", labelled(A, YUNITS="ARBITRARY UNITS"))
text("no_units.jdx", "read or refuse", labelled(A, YUNITS="", XUNITS=""), A)


def series(kind: str, y: Array, *, pieces: int = 1, swapped: bool = False, label: str = "cm-1") -> str:
    """Return an AnIML document with values listed one by one, in pieces that state where they begin."""
    edges = np.linspace(0, y.size, pieces + 1).astype(int)
    blocks = []
    for start, stop in itertools.pairwise(edges):
        inside = "".join(f"<D>{v:.6f}</D>" for v in y[start:stop])
        blocks.append(
            f'<IndividualValueSet startIndex="{start}" endIndex="{stop - 1}">{inside}</IndividualValueSet>'
        )
    if swapped:
        blocks.reverse()
    counted = (
        f"<AutoIncrementedValueSet><StartValue><D>{X[0]}</D></StartValue>"
        "<Increment><D>-2</D></Increment></AutoIncrementedValueSet>"
    )
    return (
        '<?xml version="1.0"?><AnIML xmlns="urn:org:astm:animl:schema:core:draft:0.90">'
        '<ExperimentStepSet><ExperimentStep name="film"><Result>'
        f'<SeriesSet name="s" length="{y.size}">'
        f'<Series name="x" dependency="independent" seriesType="Float64">{counted}'
        f'<Unit label="{label}"/></Series>'
        f'<Series name="y" dependency="dependent" seriesType="Float64">{"".join(blocks)}'
        f'<Unit label="{kind}"/></Series></SeriesSet></Result></ExperimentStep></ExperimentStepSet></AnIML>'
    )


text("plain.animl", "read", series("absorbance", A), A)
text("pieces.animl", "read", series("absorbance", A, pieces=5), A)
text("pieces_swapped.animl", "read or refuse", series("absorbance", A, pieces=5, swapped=True), A)
text("percent.animl", "read", series("% transmittance", 100 * T), A)
text("volts.animl", "refuse", series("V", A))
text("seconds.animl", "refuse", series("absorbance", A, label="s"))
