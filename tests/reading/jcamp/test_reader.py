"""JCAMP-DX files: the public-domain test disk, header promises kept and broken, labels, blocks, units."""

from __future__ import annotations

from pathlib import Path

import jcamp
import numpy as np
import pytest

from spectra.errors import AmbiguityError, FormatError, PromiseError
from spectra.reading import read
from spectra.reading.jcamp.data_table import decode_record
from spectra.reading.jcamp.reader import block_promises, block_traces, read_blocks
from spectra.reading.source import load_source
from tests import decoder
from tests.places import DATA

DISK = DATA / "reading" / "jcamp"
INFRARED = sorted(path.name for path in DISK.glob("*.jdx") if not path.name.startswith("o0"))
POINTS = {
    "compound.jdx": [1976, 1976, 3951, 1976, 3951],
    "dupdec1.jdx": [3951],
    "dupdec2.jdx": [3951],
    "dupinc2.jdx": [3734],
    "fixdec1.jdx": [3951],
    "fixinc1.jdx": [3736],
    "fixinc2.jdx": [3601],
    "jtpolys.jdx": [1844],
    "jtpolysd.jdx": [1844],
    "pacdec1.jdx": [3301],
    "sqzdupd1.jdx": [18669],
    "xyinc1.jdx": [3601],
}


def one(text: str | bytes, tmp_path: Path):
    """The single spectrum of a file with this content."""
    path = tmp_path / "film.dx"
    path.write_bytes(text if isinstance(text, bytes) else text.encode("latin-1"))
    (spectrum,) = read(path)
    return spectrum


def film(
    *,
    labels: str = "",
    data: str = "",
    form: str = "##XYDATA= (X++(Y..Y))",
    drop: str = "",
    end: str = "##END=",
) -> str:
    """An invented twelve-point film, 1800 to 1690 cm-1; a label given again replaces the first."""
    head = {
        "TITLE": "invented film",
        "JCAMP-DX": "4.24",
        "DATA TYPE": "INFRARED SPECTRUM",
        "XUNITS": "1/CM",
        "YUNITS": "ABSORBANCE",
        "XFACTOR": "1",
        "YFACTOR": "0.001",
        "FIRSTX": "1800",
        "LASTX": "1690",
        "DELTAX": "-10",
        "NPOINTS": "12",
        "FIRSTY": "0.010",
        "MAXY": "0.620",
        "MINY": "0.010",
    }
    for line in labels.splitlines():
        key, _, value = line.partition("=")
        head[key.strip()] = value.strip()
    for key in drop.split(";"):
        head.pop(key, None)
    data = data or "1800 10 20 50 120 300 620\n1740 550 250 100 40 20 15"
    return "\n".join([*(f"##{key}= {value}" for key, value in head.items()), form, data, end, ""])


FILM = np.array([10, 20, 50, 120, 300, 620, 550, 250, 100, 40, 20, 15]) / 1000


@pytest.mark.parametrize("name", INFRARED)
def test_public_files_have_exactly_the_points_they_promise(name):
    # The JCAMP-DX test disk, public domain; points are those of its NPOINTS labels.
    spectra = read(DISK / name)
    assert [len(spectrum) for spectrum in spectra] == POINTS[name]
    text = (DISK / name).read_text("latin-1")
    assert [int(line.split("=")[1]) for line in text.splitlines() if line.startswith("##NPOINTS")] == POINTS[
        name
    ]


@pytest.mark.parametrize("name", [name for name in INFRARED if name != "xyinc1.jdx"])
def test_public_files_agree_with_the_obvious_decoder(name):
    source = load_source(DISK / name)
    for block in read_blocks(source):
        (trace,) = block_traces(block, name, "")
        table = block.tables[0]
        lines = table.body.decode("latin-1").splitlines()[1:]
        expected, _ = decoder.decode([line for line in lines if line.strip() and "##" not in line])
        factor = float((block.text("YFACTOR") or "1").split()[0])
        assert np.array_equal(trace.y, np.array(expected) * factor)


@pytest.mark.parametrize("name", ["fixinc1.jdx", "fixdec1.jdx", "pacdec1.jdx", "jtpolysd.jdx", "dupdec1.jdx"])
def test_public_files_agree_with_jcamp_where_it_is_right(name, capsys):
    # jcamp 1.3.2 decodes these without losing points; the notes beside the reader list where it does not.
    theirs = jcamp.readfile(str(DISK / name))
    capsys.readouterr()
    (trace,) = block_traces(read_blocks(load_source(DISK / name))[0], name, "")
    assert np.allclose(trace.y, theirs["y"], rtol=1e-12, atol=0)
    assert np.allclose(trace.x, theirs["x"], rtol=1e-12, atol=0)


def test_one_spectrum_in_five_encodings_decodes_alike():
    found = []
    for number in range(1, 6):
        source = load_source(DISK / f"o0{number}.jdx")
        block = read_blocks(source)[0]
        # the units are not infrared: decode without judging them
        found.append(decode_record(block.tables[0], block_promises(block, source.path), source.path))
    assert found[0].y.size == 8192
    for other in found[1:]:
        assert np.array_equal(other.y, found[0].y)
        assert np.array_equal(other.x, found[0].x)


@pytest.mark.parametrize("number", range(1, 6))
def test_a_spectrum_of_another_method_is_refused(number):
    with pytest.raises(FormatError, match=r"holds no infrared spectrum: DATA TYPE is NMR SPECTRUM"):
        read(DISK / f"o0{number}.jdx")


def test_one_compound_in_absorbance_and_transmittance():
    # fixinc2 (A) and xyinc1 (T) are one measurement: |A + log10 T| <= 5e-5, half a unit of A's last digit.
    # The first is cut off at A = 3, where the second still holds T = 0.0002, and has no T <= 0.
    (in_a,), (in_t,) = read(DISK / "fixinc2.jdx"), read(DISK / "xyinc1.jdx")
    assert np.array_equal(in_a.wavenumbers, in_t.wavenumbers)
    open_points = in_a.absorbance < 3.0
    assert np.count_nonzero(~open_points) == 10
    assert np.count_nonzero(np.isnan(in_t.absorbance)) == 9
    assert np.max(np.abs(in_a.absorbance - in_t.absorbance)[open_points]) <= 5e-5


def test_one_film_plain_and_in_difference_form():
    # The YFACTOR of the second was altered: the ratio is 1.00178 and FIRSTY, MAXY and MINY disagree.
    (plain,), (packed,) = read(DISK / "jtpolys.jdx"), read(DISK / "jtpolysd.jdx")
    ratio = 10**-packed.absorbance / 10**-plain.absorbance
    assert np.max(np.abs(ratio - 1)) < 0.0018
    (fault,) = packed.origin.faults
    assert (fault.code, fault.where) == ("header-ordinate-differs", "lines 15, 16, 17")
    assert fault.found.startswith("FIRSTY is 0.981633, the table gives 0.983376; MAXY is 1.02282")
    assert plain.origin.faults == ()


# Headers seen in the wild, with the numbers of public files; the tables are invented.


def test_inverted_yfactor_is_settled_by_firsty(tmp_path):
    # YFACTOR 2.027835E+06 with a first ordinate of 1395941 and FIRSTY 0.6883899
    data = "1800 1395941 1400000 1300000 1200000 900000 500000\n1740 7E+5 9E+5 1.2E+6 1.3E+6 1.4E+6 1.3E+6"
    labels = "YFACTOR=2.027835E+06\nFIRSTY=0.6883899\nYUNITS=TRANSMITTANCE"
    spectrum = one(film(labels=labels, data=data, drop="MAXY;MINY"), tmp_path)
    assert 10 ** -spectrum.absorbance[-1] == pytest.approx(1395941 / 2.027835e6, rel=1e-12)
    assert "written as its inverse" in spectrum.origin.repairs[0]


def test_firsty_in_raw_counts(tmp_path):
    # YFACTOR 0.01220703, FIRSTY 7493, MAXY 95.8: 7493 x YFACTOR = 91.47
    data = "1800 7493 7848 7000 6000 5000 4000\n1740 3000 4000 5000 6000 7000 7800"
    labels = "YFACTOR=0.01220703\nFIRSTY=7493\nMAXY=95.8\nYUNITS=TRANSMITTANCE"
    spectrum = one(film(labels=labels, data=data, drop="MINY"), tmp_path)
    assert 100 * 10 ** -spectrum.absorbance[-1] == pytest.approx(91.47, abs=0.005)
    assert spectrum.origin.y_unit == "percent transmittance"
    assert any("FIRSTY 7493 is in raw counts" in said for said in spectrum.origin.repairs)


def cropped(
    step: float, first: float, points: int = 612, per_line: int = 6, factor: float = 4.8828e-4
) -> str:
    """A table whose own abscissae run evenly."""
    lines = []
    for start in range(0, points, per_line):
        x = round((first + step * start) / factor)
        lines.append(
            f"{x} " + " ".join(str(100 + i % 7) for i in range(start, min(start + per_line, points)))
        )
    return "\n".join(lines)


def test_header_left_over_from_before_the_range_was_cut(tmp_path):
    # FIRSTX 4000.655, LASTX 400.162, NPOINTS 612, DELTAX -0.9642,
    # first abscissa 4861896 x 4.8828e-4 = 2373.97
    labels = "FIRSTX=4000.655\nLASTX=400.162\nNPOINTS=612\nDELTAX=-0.9642\nXFACTOR=4.8828e-4"
    text = film(labels=labels, data=cropped(-0.9642, 2373.97), drop="FIRSTY;MAXY;MINY")
    spectrum = one(text, tmp_path)
    assert spectrum.wavenumbers[-1] == pytest.approx(2373.97, abs=0.01)
    assert spectrum.wavenumbers[0] == pytest.approx(2373.97 - 611 * 0.9642, abs=0.01)
    assert "does not fit the table" in spectrum.origin.repairs[0]


def test_stale_deltax_is_set_aside_where_the_table_agrees_with_the_ends(tmp_path):
    labels = "FIRSTX=2373.97\nLASTX=1784.8438\nNPOINTS=612\nDELTAX=-5.893\nXFACTOR=4.8828e-4"
    text = film(labels=labels, data=cropped(-0.9642, 2373.97), drop="FIRSTY;MAXY;MINY")
    spectrum = one(text, tmp_path)
    assert spectrum.wavenumbers[0] == pytest.approx(1784.8438)
    assert any("DELTAX -5.893 set aside" in said for said in spectrum.origin.repairs)


def test_transmittance_that_holds_percent_is_said(tmp_path):
    text = film(
        labels="YUNITS=TRANSMITTANCE\nYFACTOR=0.1",
        drop="FIRSTY;MAXY;MINY",
        data="1800 958 900 850 700 500 200\n1740 300 500 700 850 900 950",
    )
    spectrum = one(text, tmp_path)
    assert spectrum.origin.y_unit == "percent transmittance"
    assert spectrum.origin.assumed == ("values up to 95.8 taken as transmittance in percent",)
    assert spectrum.absorbance[-1] == pytest.approx(-np.log10(0.958))


@pytest.mark.parametrize(
    ("labels", "data", "message"),
    [
        ("NPOINTS=13", "", r"line 11: NPOINTS promises 13 points, the table holds 12"),
        ("NPOINTS=11", "", r"promises 11 points, the table holds 12"),
        ("FIRSTX=1810", "", r"line 16: begins at 1800, but FIRSTX, LASTX and the number of points give 1810"),
        ("LASTX=1600", "", r"line 17: begins at 1740, but .* give 1690\.9"),
        ("FIRSTY=0.5", "", r"line 12: FIRSTY promises 0.5, the table gives 0.01"),
        ("MAXY=0.3", "", r"line 13: MAXY promises 0.3, the table gives 0.62"),
        ("MINY=0.2", "", r"line 14: MINY promises 0.2, the table gives 0.01"),
        ("", "1800 10 20 50 120 300 620\n1750 550 250 100 40 20 15", r"line 17: begins at 1750"),
        ("XFACTOR=0", "", r"line 6: XFACTOR is zero"),
        ("NPOINTS=twelve", "", r"line 11: NPOINTS: 'twelve' is not a number"),
        ("NPOINTS=2000000000", "", r"line 11: NPOINTS is 2e\+09; expected a whole number, at most"),
        ("NPOINTS=12.5", "", r"line 11: NPOINTS is 12\.5"),
    ],
)
def test_broken_promises_name_line_found_and_expected(labels, data, message, tmp_path):
    with pytest.raises((PromiseError, FormatError), match=message):
        one(film(labels=labels, data=data), tmp_path)


def test_a_lost_line_is_found_even_without_npoints(tmp_path):
    lines = [f"{1800 - 10 * i} {100 + i}" for i in range(30)]
    del lines[17]
    text = film(data="\n".join(lines), drop="NPOINTS;FIRSTY;MAXY;MINY", labels="LASTX=1510")
    with pytest.raises(PromiseError, match="begins at"):
        one(text, tmp_path)


def test_maxy_left_over_is_set_aside_when_every_point_is_there(tmp_path):
    spectrum = one(film(labels="MAXY=0.9\nMINY=-0.1"), tmp_path)
    assert [said.split(" set aside")[0] for said in spectrum.origin.repairs] == ["MAXY 0.9", "MINY -0.1"]
    with pytest.raises(PromiseError, match=r"MAXY promises 0\.9"):
        one(film(labels="MAXY=0.9", drop="NPOINTS"), tmp_path)


def test_line_starts_that_were_not_divided_by_xfactor(tmp_path):
    spectrum = one(film(labels="XFACTOR=0.5"), tmp_path)
    assert spectrum.origin.repairs == ("XFACTOR set aside: the line starts are wavenumbers already",)


@pytest.mark.parametrize(
    "text",
    [
        film().replace("\n", "\r\n"),
        film().replace("\n", "\r"),
        film() + "\x1a",
        film(end=""),
        film().replace("##XYDATA=", "##xy data="),
        film().replace("##DATA TYPE=", "##Data_Type ="),
        film().replace("(X++(Y..Y))", "( X++ (Y .. Y) )"),
        film().replace("##NPOINTS", "  ##N-POINTS"),
        film().replace("##XYDATA= (X++(Y..Y))", "##XYDATA= (X++(Y..Y)) $$ a comment"),
        film().replace("1740 550", "1740 $$ 999 999\n$$ 1 2 3\n1740 550".replace("1740 $$ 999 999\n", "")),
        film().replace("##YUNITS= ABSORBANCE", "##YUNITS= Absorbance $$ not T"),
        "$$ a comment first\n\n" + film(),
        "\ufeff".encode().decode("latin-1") + film(),
        film().replace("DELTAX= -10", "DELTAX= -10,0").replace("FIRSTX= 1800", "FIRSTX= 1800,00"),
        film(labels="ORIGIN=line one\nOWNER=a ## b"),
        film().replace("##XFACTOR= 1\n", ""),
    ],
    ids=[
        "CRLF",
        "CR",
        "Ctrl-Z",
        "no END",
        "label in small letters",
        "label with underscore",
        "spaced form",
        "indented",
        "comment on the label",
        "comment lines",
        "comment in a value",
        "comment first",
        "byte-order mark",
        "decimal commas",
        "number signs in a value",
        "no XFACTOR",
    ],
)
def test_ways_of_writing_the_same_file(text, tmp_path):
    spectrum = one(text, tmp_path)
    assert np.allclose(spectrum.absorbance[::-1], FILM, rtol=0, atol=1e-15)
    assert spectrum.wavenumbers[[0, -1]].tolist() == [1690, 1800]
    assert spectrum.origin.title == "invented film"
    assert spectrum.origin.repairs == ()


def test_what_the_header_did_not_say_is_said(tmp_path):
    spectrum = one(film(drop="NPOINTS;DATA TYPE;YUNITS;FIRSTY;MAXY;MINY", end=""), tmp_path)
    assert spectrum.origin.assumed == (
        "the END label is missing",
        "NPOINTS is not stated: the number of points could not be checked",
        "DATA TYPE is not stated: taken as an infrared spectrum",
        "ordinates from 0.01 to 0.62 taken as absorbance: bands point up",
    )


@pytest.mark.parametrize("coding", ["utf-8", "latin-1"])
def test_text_codings_of_the_title(coding, tmp_path):
    assert one(film(labels="TITLE=Gaze é").encode(coding), tmp_path).origin.title == "Gaze é"


def test_missing_ordinates_are_gaps(tmp_path):
    spectrum = one(film(data="1800 10 20 ? 120 300 620\n1740 550 250 100 40 20 15"), tmp_path)
    assert np.flatnonzero(np.isnan(spectrum.absorbance)).tolist() == [9]
    assert [fault.code for fault in spectrum.origin.faults] == ["missing-ordinates"]


def test_several_blocks_with_and_without_link(tmp_path):
    path = tmp_path / "two.dx"
    second = film(labels="TITLE=second").replace("620", "610").replace("0.610", "0.610")
    cover = "##TITLE= both\n##DATA TYPE= LINK\n##BLOCKS= 2\n"
    for text in (cover + film() + second + "##END=\n", film() + second):
        path.write_text(text)
        spectra = read(path)
        assert [spectrum.origin.title for spectrum in spectra] == ["invented film", "second"]
        assert [spectrum.origin.part for spectrum in spectra] == ["block 1", "block 2"]
        assert [spectrum.absorbance.max() for spectrum in spectra] == [0.62, 0.61]


def test_a_block_that_is_missing(tmp_path):
    path = tmp_path / "cut.dx"
    cover = "##TITLE= three\n##DATA TYPE= LINK\n##BLOCKS= 4\n"
    path.write_text(cover + film() + film(labels="TITLE=second"))
    with pytest.raises(
        PromiseError, match="line 3: BLOCKS promises 4 blocks, the file holds 2; was it cut off"
    ):
        read(path)
    path.write_text(cover.replace("4", "3") + film() + film(labels="TITLE=second"))  # the cover counted in
    assert len(read(path)) == 2


def test_a_peak_table_is_refused_and_in_company_left_out(tmp_path):
    peaks = (
        "##TITLE= peaks\n##DATA TYPE= INFRARED PEAK TABLE\n##NPOINTS= 2\n"
        "##PEAK TABLE= (XY..XY)\n1700 1\n1600 2\n##END=\n"
    )
    with pytest.raises(FormatError, match="holds no infrared spectrum: a peak table, not a spectrum"):
        one(peaks, tmp_path)
    spectrum = one(film() + peaks, tmp_path)
    assert spectrum.origin.assumed == ("block 2 left out: a peak table, not a spectrum",)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (film(labels="DATA TYPE=RAMAN SPECTRUM"), "DATA TYPE is RAMAN SPECTRUM"),
        (film(labels="DATA TYPE=INFRARED INTERFEROGRAM"), "an interferogram, not a spectrum"),
        (film(labels="XUNITS=SECONDS"), r"XUNITS is 'SECONDS'; expected 1/CM"),
        (film(labels="YUNITS=ARBITRARY UNITS"), r"YUNITS is 'ARBITRARY UNITS'; expected ABSORBANCE"),
        (film(form="##XYDATA= (R++(A..A)B)"), r"line 15: table form '\(R\+\+\(A\.\.A\)B\)'"),
        (film(form="##XYDATA= yes"), "line 15: table form 'yes'"),
        (
            film().replace("##END=", "##XYDATA= (X++(Y..Y))\n1800 1 2\n##END="),
            "a second data table in one block",
        ),
        ("##TITLE= empty\n##DATA TYPE= INFRARED SPECTRUM\n##END=\n", "no data table in INFRARED SPECTRUM"),
        (
            film(
                labels="FIRSTX=0\nLASTX=110\nXUNITS=MICROMETERS\nDELTAX=10",
                data="0 10 20 50 120 300 620\n60 550 250 100 40 20 15",
            ),
            "a wavelength of 0 um cannot be",
        ),
    ],
)
def test_what_is_not_an_infrared_spectrum(text, message, tmp_path):
    with pytest.raises((FormatError, AmbiguityError), match=message):
        one(text, tmp_path)


@pytest.mark.parametrize(
    ("unit", "factor", "name"), [("MICROMETERS", 1e4, "um"), ("NANOMETERS", 1e7, "nm"), ("1/CM", 1.0, "cm-1")]
)
def test_abscissa_units(unit, factor, name, tmp_path):
    first, last = (1800, 1690) if unit == "1/CM" else (factor / 1800, factor / 1690)
    x = np.linspace(first, last, 12)
    pairs = "\n".join(
        f"{a:.9g}, {b}"
        for a, b in zip(x, [10, 20, 50, 120, 300, 620, 550, 250, 100, 40, 20, 15], strict=True)
    )
    labels = f"XUNITS={unit}\nFIRSTX={first:.9g}\nLASTX={last:.9g}"
    spectrum = one(film(labels=labels, drop="DELTAX", form="##XYPOINTS= (XY..XY)", data=pairs), tmp_path)
    assert spectrum.origin.x_unit == name
    assert spectrum.wavenumbers[[0, -1]] == pytest.approx([1690, 1800], rel=1e-8)
    assert spectrum.absorbance.max() == 0.62


@pytest.mark.parametrize(
    ("unit", "expected"),
    [
        ("ABSORBANCE", 0.62),
        ("TRANSMITTANCE", -np.log10(0.62)),
        ("REFLECTANCE", -np.log10(0.62)),
        # f = (1 - R)^2 / (2 R) = 0.62 gives R = 0.35266 (solved by hand)
        ("KUBELKA-MUNK", -np.log10(1 + 0.62 - np.sqrt(0.62**2 + 2 * 0.62))),
    ],
)
def test_ordinate_units(unit, expected, tmp_path):
    spectrum = one(film(labels=f"YUNITS={unit}"), tmp_path)
    assert spectrum.absorbance[6] == pytest.approx(expected, rel=1e-12)


def test_kubelka_munk_gives_back_the_reflectance(tmp_path):
    spectrum = one(film(labels="YUNITS=KUBELKA-MUNK"), tmp_path)
    reflectance = 10 ** -spectrum.absorbance[::-1]
    assert (1 - reflectance) ** 2 / (2 * reflectance) == pytest.approx(FILM, rel=1e-12)


def test_pages_of_ntuples(tmp_path):
    head = (
        "##TITLE= washing\n##JCAMP-DX= 5.01\n##DATA TYPE= INFRARED SPECTRUM\n##NTUPLES= INFRARED SPECTRUM\n"
        "##VAR_NAME= WAVENUMBER, ABSORBANCE, TIME\n##SYMBOL= X, Y, T\n##VAR_TYPE= INDEPENDENT, "
        "DEPENDENT, PAGE\n"
        "##VAR_FORM= AFFN, ASDF, AFFN\n##VAR_DIM= 12, 12, 2\n##UNITS= 1/CM, ABSORBANCE, SECONDS\n"
        "##FIRST= 1800, , 0\n##LAST= 1690, , 60\n##FACTOR= 1, 0.001, 1\n"
    )
    page = "##DATA TABLE= (X++(Y..Y)), XYDATA\n"
    data = "1800 10 20 50 120 300 620\n1740 550 250 100 40 20 15\n"
    path = tmp_path / "pages.dx"
    second_data = "1800A0J0T%s\n1690C0\n"  # 10, twice a difference of 10, nine differences of 0, the check
    path.write_text(
        f"{head}##PAGE= T=0\n{page}{data}##PAGE= T=60\n{page}{second_data}##END NTUPLES=\n##END=\n"
    )
    first, second = read(path)
    assert [spectrum.origin.part for spectrum in (first, second)] == ["page T=0", "page T=60"]
    assert np.allclose(first.absorbance[::-1], FILM, rtol=0, atol=1e-15)
    assert second.absorbance[::-1] == pytest.approx([0.010, 0.020, *[0.030] * 10])


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("##SYMBOL= X, Y", "##SYMBOL= A, B", r"symbol 'X' is not in SYMBOL; expected one of A, B"),
        ("##SYMBOL= X, Y\n", "", "an NTUPLES block without SYMBOL"),
        ("##VAR_DIM= 12, 12", "##VAR_DIM= 12, 13", "promises 13 points, the table holds 12"),
        ("1/CM", "HZ", "XUNITS is 'HZ'"),
    ],
)
def test_broken_pages(old, new, message, tmp_path):
    text = (
        "##TITLE= t\n##DATA TYPE= INFRARED SPECTRUM\n##NTUPLES= INFRARED SPECTRUM\n##SYMBOL= X, "
        "Y\n##VAR_DIM= 12, 12\n"
        "##UNITS= 1/CM, ABSORBANCE\n##FIRST= 1800,\n##LAST= 1690,\n##FACTOR= 1, 0.001\n##PAGE= N=1\n"
        "##DATA TABLE= (X++(Y..Y)), XYDATA\n1800 10 20 50 120 300 620\n1740 550 250 100 40 20 15\n##END=\n"
    )
    assert len(one(text, tmp_path)) == 12
    with pytest.raises((FormatError, PromiseError), match=message):
        one(text.replace(old, new), tmp_path)


@pytest.mark.parametrize("form", ["{:.6g}", "{:.2f}", "{:.0f}", "{:.7e}", "{:.10g}"])
def test_line_starts_may_be_printed_in_any_precision(form, tmp_path):
    x = np.linspace(1012.3456789, 961.5267, 67)  # passes 1000: six significant digits lose a decimal there
    lines = [
        f"{form.format(x[i])} " + " ".join(str(100 + j % 9) for j in range(i, min(i + 5, 67)))
        for i in range(0, 67, 5)
    ]
    labels = f"FIRSTX={float(x[0])!r}\nLASTX={float(x[-1])!r}\nNPOINTS=67"
    spectrum = one(film(labels=labels, data="\n".join(lines), drop="FIRSTY;MAXY;MINY;DELTAX"), tmp_path)
    assert np.allclose(spectrum.wavenumbers[::-1], x, rtol=1e-14)
    assert spectrum.origin.repairs == ()
    assert spectrum.origin.faults == ()


def test_line_starts_that_drift_less_than_half_a_step_are_said(tmp_path):
    # As in the five NMR files of the test disk, whose line starts were added up in single precision.
    lines = [f"{1800 - 10.02 * i:.3f} {100 + i % 9}" for i in range(12)]
    spectrum = one(film(data="\n".join(lines), drop="FIRSTY;MAXY;MINY"), tmp_path)
    assert spectrum.wavenumbers[0] == 1690
    (fault,) = spectrum.origin.faults
    assert fault.code == "axis-differs-within-step"
    assert "up to 0.22 off" in fault.found


def test_a_lost_point_is_no_drift(tmp_path):
    # With one point fewer the stretched axis is never more than half a step from the line starts.
    kept = [i for i in range(41) if i != 20]
    lines = [f"{1800 - 10 * i} {100 + i % 9}" for i in kept]
    labels = "NPOINTS=40\nLASTX=1400"
    with pytest.raises(PromiseError, match="begins at"):
        one(film(labels=labels, data="\n".join(lines), drop="FIRSTY;MAXY;MINY"), tmp_path)
