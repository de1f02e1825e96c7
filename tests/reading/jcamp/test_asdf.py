"""The ordinate tables of JCAMP-DX against published vectors and a second, obvious decoder."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spectra.errors import AmbiguityError, FormatError, PromiseError
from spectra.reading.jcamp import asdf
from spectra.reading.jcamp.asdf import decode_pairs, decode_table
from spectra.reading.numbers import parse_numbers
from spectra.writing.jcamp_file import write_jcamp
from tests import decoder
from tests.readspeed import film, peak_bytes


def decode(text: str, promised: int | None = None) -> np.ndarray:
    return decode_table(text.encode("latin-1"), "a.dx", 1, promised).ordinates


# McDonald and Wilks, Appl. Spectrosc. 42 (1988) 151, table VIIb: one row of ordinates in five forms.
TABLE_7B = [1, 2, 3, 3, 2, 1, 0, -1, -2, -3]


@pytest.mark.parametrize(
    "text",
    ["1 2 3 3 2 1 0 -1 -2 -3", "1+2+3+3+2+1+0-1-2-3", "1BCCBA@abc", "1JJ%jjjjjj", "1JT%jX"],
    ids=["AFFN", "PAC", "SQZ", "DIF", "DIFDUP"],
)
def test_published_row_in_every_form(text):
    # The row is printed without its abscissa; any number may stand there.
    assert decode(f"400 {text}").tolist() == TABLE_7B


def test_published_block_with_check_ordinate():
    # The same paper, table VI: 53 ordinates; the check ordinate of the second line is no point.
    text = "599.860@VKT%TLkj%J%KLJ%njKjL%kL%jJULJ%kLK1%lLMNPNPRLJ0QTOJ1P\n700.158A28"
    expected = (
        "0 0 0 0 2 4 4 4 7 5 4 4 5 5 7 10 11 11 6 5 7 6 9 9 7 10 10 9 10 11 12 15 16 16 14 17 38 38 35 38 42 "
        "47 "
        "54 59 66 75 78 88 96 104 110 121 128"
    )
    table = decode_table(text.encode(), "a.dx", 1, 53)
    assert table.ordinates.tolist() == [float(number) for number in expected.split()]
    assert table.checked == 1
    # (700.158 - 599.860) / 52 = 1.92881 is the step the paper prints: the check stands at point 53.
    assert table.starts.tolist() == [0, 52]


def test_signs_long_repeats_and_line_ends():
    # Our own vector, encoded by hand after table VII.
    lines = "0A000%TkJ4Uj045\n0ej2%S1K67k50\n0@"
    expected = [1000, 1000, 1000, 998, 1012, 1026, 1040, -5, *[-17] * 12, 250, 0]
    assert decode(lines, len(expected)).tolist() == expected


def test_repeat_after_a_squeezed_value():
    assert decode("0E7Tb12V").tolist() == [57, 57, -212, -212, -212, -212]


def test_repeat_count_of_several_digits():
    assert decode("0A5S2JT0").tolist() == [*[15] * 12, *range(16, 36)]


def test_missing_ordinates():
    found = decode("0 1 ? 3")
    assert np.isnan(found[1])
    assert found[[0, 2]].tolist() == [1, 3]
    assert np.isnan(decode("0A?T")[1:]).all()


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("400 1.5E+03 2e-1", [1500.0, 0.2]),
        ("400 E5F2", [55.0, 62.0]),  # with other pseudo-digits E is a squeezed 5
        ("4E+02 1.5E3 2", [1500.0, 2.0]),
    ],
)
def test_exponents_and_the_squeezed_e(text, expected):
    assert decode(text, len(expected)).tolist() == expected


def test_letter_e_without_any_other_hint_is_ambiguous():
    with pytest.raises(AmbiguityError, match=r"line 1: the letter E is either an exponent \(1 points\)"):
        decode("400 1E5")
    assert decode("400 1E5", 1).tolist() == [1e5]
    assert decode("400 1E5", 2).tolist() == [1, 55]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("400 1 2x3", r"line 1: b'x' is no part of a number"),
        ("400 1 2\n402 3 1.2.3", r"line 2: '402 3 1\.2\.3' does not read as numbers"),
        ("400 1 - 2", r"line 1: .* does not read as numbers"),
        ("400 1E+999 2", r"does not read as numbers"),
        ("400T1", r"line 1: a repeat count has no ordinate before it"),
        ("400A1TU", r"a repeat count has no ordinate before it"),
        ("A1J", r"line 1: the line does not begin with an abscissa"),
        ("400J1", r"line 1: begins with a difference"),
        ("400A1S99999999999", r"repeat counts ask for 2e\+11 points"),
        ("400 \x0e1", r"control characters"),
    ],
)
def test_broken_tables_name_the_line(text, message):
    with pytest.raises(FormatError, match=message):
        decode(text)


def test_check_ordinate_that_differs():
    with pytest.raises(PromiseError, match=r"line 2: the check ordinate is 3, but line 1 ended at 2"):
        decode("400A1jjjjjjjjj\n410C")


def test_lines_without_check_ordinates_are_recognised_by_the_number_of_points():
    table = decode_table(b"400A0J\n402A5J\n404A9J", "a.dx", 1, 6)
    assert table.unchecked
    assert table.ordinates.tolist() == [10, 11, 15, 16, 19, 20]
    with pytest.raises(PromiseError, match="check ordinate"):
        decode("400A0J\n402A5J\n404A9J")


def test_pairs():
    x, y, lines = decode_pairs(b"400,0.1; 401 2E-1\n402,?  403 -4", "a.dx", 5)
    assert x.tolist() == [400, 401, 402, 403]
    assert y[[0, 1, 3]].tolist() == [0.1, 0.2, -4]
    assert np.isnan(y[2])
    assert lines.tolist() == [5, 5, 6, 6]
    with pytest.raises(FormatError, match=r"line 6: 3 numbers do not make pairs"):
        decode_pairs(b"400 1\n401", "a.dx", 5)
    with pytest.raises(FormatError, match=r"line 5: compressed digits in a table of pairs"):
        decode_pairs(b"400A1", "a.dx", 5)


ordinate = st.integers(-(10**6), 10**6)


@st.composite
def tables(draw) -> list[str]:
    """Lines in any mixture of forms, without check ordinates that would be wrong."""
    digits = {
        kind: {v: k for k, v in table.items()}
        for kind, table in (("sqz", decoder.SQZ), ("dif", decoder.DIF), ("dup", decoder.DUP))
    }

    def with_digit(number: int, kind: str) -> str:
        text = str(abs(number))
        lead = int(text[0])
        return digits[kind][-lead if number < 0 else lead] + text[1:]

    lines = []
    last, in_difference = 0, False
    for i in range(draw(st.integers(1, 4))):
        line = f"{400 + i}"
        for j in range(draw(st.integers(1, 8))):
            form = draw(st.sampled_from(["affn", "pac", "sqz", "dif"] if j else ["affn", "pac", "sqz"]))
            value = last if j == 0 and in_difference else draw(ordinate)
            if form == "dif":
                line += with_digit(value - last, "dif")
            else:
                line += {"affn": f" {value}", "pac": f"{value:+d}", "sqz": with_digit(value, "sqz")}[form]
            repeats = draw(st.integers(1, 30)) if draw(st.booleans()) and (j or not in_difference) else 1
            if repeats > 1:
                line += with_digit(repeats, "dup")
            step = value - last if form == "dif" else 0
            last = value + step * (repeats - 1)
            difference = form == "dif"
        in_difference = difference
        lines.append(line)
    return lines


@given(tables())
@settings(max_examples=120, deadline=None)
def test_every_mixture_agrees_with_the_obvious_decoder(lines):
    expected, checks = decoder.decode(lines)
    table = decode_table("\n".join(lines).encode(), "a.dx", 1, promised=len(expected))
    assert table.ordinates.tolist() == expected
    assert table.checked == checks


FAULTS = [
    "400 1 2x3",
    "400 1 - 2",
    "400 1.2.3",
    "400T1",
    "400A1TU",
    "A1J",
    "400J1",
    "400A1S99999999999",
    "400S9999999\n",
    "?",
]


@given(
    tables(), st.lists(st.sampled_from([*FAULTS, "", "  ", "405", "400-0", "400A1"]), max_size=3), st.data()
)
@settings(max_examples=150, deadline=None)
def test_a_table_cut_into_blocks_reads_as_the_whole(lines, others, data):
    for other in others:
        lines.insert(data.draw(st.integers(0, len(lines))), other)
    body = "\n".join(lines).encode()
    whole = _outcome(body, 1 << 17)
    assert _outcome(body, 1) == whole
    assert _outcome(body, 30) == whole


def _outcome(body: bytes, block: int) -> list[object]:
    """All that is read, to the last bit, or the message."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(asdf, "_BLOCK", block)
        try:
            table = decode_table(body, "a.dx", 1)
        except (AmbiguityError, FormatError, PromiseError) as error:
            return [type(error), str(error)]
    arrays = (table.ordinates, table.abscissae, table.starts, table.lines)
    return [*(array.astype(float).tobytes() for array in arrays), table.checked, table.unchecked]


def test_fractions_add_up_alike_in_blocks_and_as_a_whole():
    # sums of 0.1 are rounded, so the order of adding shows in the last bit
    lines = ["400A.1", *(f"{400 + i} -0K.{i}k.3{i}R.7 {i}" for i in range(1, 60))]
    body = "\n".join(lines).encode()
    assert _outcome(body, 1) == _outcome(body, 100) == _outcome(body, len(body))


def test_too_many_points_in_all_blocks_together(monkeypatch):
    monkeypatch.setattr(asdf, "_BLOCK", 1)
    with pytest.raises(FormatError, match=r"repeat counts ask for 1\.2e\+07 points"):
        decode("400A1X000000\n" * 2)


@pytest.mark.parametrize("encoding", ["DIF", "DIFDUP"])
def test_memory_for_a_long_table(encoding, tmp_path):
    points, path = 300_000, tmp_path / "long.dx"
    write_jcamp(film(points), path, encoding=encoding, y_factor=1e-6)
    body = path.read_bytes().partition(b"(X++(Y..Y))")[2].partition(b"##")[0]
    # Two arrays of ordinates, with and without checks, and the working arrays of one block, which are
    # about 40 times its bytes; the table as a whole took 22 MB.
    assert peak_bytes(lambda: decode_table(body, "long.dx", 1)) < 2 * 8 * points + 40 * asdf._BLOCK


number_text = st.one_of(
    st.integers(-(10**15) + 1, 10**15 - 1).map(str),
    st.decimals(-(10**6), 10**6, allow_nan=False, allow_infinity=False, places=6).map(str),
    st.floats(allow_nan=False, allow_infinity=False).map(repr),
    st.sampled_from(["+5", "-0", ".5", "5.", "-.25", "000123", "0.1", "1e5", "123456789012345678"]),
)


@given(st.lists(number_text, min_size=1, max_size=40), st.sampled_from([" ", "\n", "  ", "\t"]))
@settings(max_examples=120, deadline=None)
def test_numbers_are_those_of_python(texts, blank):
    found = parse_numbers(blank.join(texts), len(texts))
    assert found is not None
    assert found.tolist() == [float(text) for text in texts]


@given(
    st.lists(st.floats(allow_nan=False, allow_infinity=False), min_size=1, max_size=30),
    st.sampled_from(["{:.9e}", "{:+.5E}", "{:.0e}", "{:.16e}"]),
    st.sampled_from([" ", "\n"]),
)
@settings(max_examples=80, deadline=None)
def test_exponents_are_those_of_python(values, form, blank):
    texts = [form.format(value) for value in values]
    found = parse_numbers(blank.join(texts), len(texts))
    assert found is not None
    assert list(map(repr, found.tolist())) == [repr(float(text)) for text in texts]  # the sign of zero too


@pytest.mark.parametrize("text", ["1e", "e5", "1e5.", "1ee5", "1e+-5", "1e5e2 3", "1 e5", "1e 5", "1e2.5"])
def test_exponents_that_are_none(text):
    assert all(parse_numbers(text, count) is None for count in range(4))


@pytest.mark.parametrize("text", ["1.2.3", "1-2", "--1", "1 x", "+", ".", "1..2", "1 . 2", ""])
def test_text_that_is_no_number_gives_none(text):
    assert parse_numbers(text, 1) is None
    assert parse_numbers(text, 2) is None
    assert parse_numbers(text, 3) is None


def test_numbers_across_the_pieces_they_are_read_in():
    values = np.arange(100_000) / 8
    text = " ".join(map(repr, values.tolist()))
    assert len(text) > 2**18
    assert np.array_equal(parse_numbers(text, values.size), values)


@pytest.mark.parametrize("line", ["400E00", "400E0", "400E01", "-400E00"])
def test_a_reading_without_a_point_is_none(line):
    """The letter E as an exponent leaves no ordinate there, as a squeezed digit (5) it leaves one."""
    expected, _ = decoder.decode([line])
    assert len(expected) == 1
    assert decode_table(line.encode(), "a.dx", 1).ordinates.tolist() == expected


def test_two_readings_with_points_stay_ambiguous():
    with pytest.raises(AmbiguityError, match=r"the letter E is either an exponent .* or a squeezed digit"):
        decode_table(b"400 1E02", "a.dx", 1)
