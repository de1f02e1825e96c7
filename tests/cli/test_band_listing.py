"""Listing the tables for the terminal and for programs."""

import csv
import io
import json
import math
import subprocess
import sys

import pytest

from reference_bands import find, load
from reference_bands.records import CHECKED
from spectra.cli.band_listing import band_listing
from spectra.errors import BandTableError, UsageError
from tests.places import ROOT

TABLE = load()


def rows_of(listing):
    return list(csv.DictReader(io.StringIO(listing)))


def test_by_wavenumber_all_three_forms_hold_the_same_rows():
    expected = [(row.name, row.typical) for row in find(1715)]
    listed = rows_of(band_listing("1715", form="csv"))
    assert [(row["name"], float(row["typical"] or "nan")) for row in listed] == [
        (name, pytest.approx(math.nan if typical is None else typical, nan_ok=True))
        for name, typical in expected
    ]
    document = json.loads(band_listing("1715", form="json"))
    assert document["format"] == 1
    assert [(row["name"], row["typical"]) for row in document["rows"]] == expected
    text = band_listing("1715")
    assert text.splitlines()[0] == f"{len(expected)} rows within 4 cm-1 of 1715 cm-1, the nearest first"
    shown = [line for line in text.splitlines() if any(f"  {word}  " in line for word in CHECKED)]
    assert len(shown) == len(expected)
    ranges = [row for row in find(1715) if row.typical is None]
    assert ranges
    assert all(any(line.startswith(f"{row.low:g}-{row.high:g} ") for line in shown) for row in ranges)


def test_every_listed_row_shows_its_source_and_how_it_was_checked():
    for row in rows_of(band_listing("1715", form="csv")):
        assert row["checked"] in ("read", "unidentified", "memory")
        assert row["source"]
        assert (
            ("recalled, not read again" in row["citation"])
            or row["checked"] == "read"
            or "source not identified" in row["citation"]
            or "read:" in row["citation"]
        )
    text = band_listing("pcl")
    assert "unger2009: Miriam Unger, Shigeaki Morita" in text
    assert "1716-1732*" in text
    assert "* the width of the window is our own choice" in text


def test_by_words_and_by_material():
    assert {row["name"] for row in rows_of(band_listing("PCL", form="csv"))} == {"polycaprolactone"}
    listed = rows_of(band_listing("amide II", form="csv"))
    assert len({row["name"] for row in listed}) > 5
    assert all("amide II" in " ".join(row.values()) for row in listed)


def test_without_anything_the_materials_are_listed_with_their_counts():
    listed = rows_of(band_listing(form="csv"))
    assert [row["name"] for row in listed] == list(TABLE.materials)
    pcl = next(row for row in listed if row["name"] == "polycaprolactone")
    assert int(pcl["read"]) + int(pcl["memory"]) == len(TABLE.of("PCL"))
    assert "PCL" in pcl["other_names"]


def test_a_pair_tells_clear_bands_from_those_that_collide():
    """Amide I and II of a protein stand clear of an aliphatic polyester (common practice, no source)."""
    listed = rows_of(band_listing(coating="gelatin", substrate="polycaprolactone", form="csv"))
    beside = {float(row["typical"] or 0): row["beside"] for row in listed}
    assert beside[1635] == "clear"
    assert beside[1550] == "clear"
    assert beside[1238] == "collides"
    text = band_listing(coating="gelatin", substrate="PCL")
    assert text.startswith("gelatin on polycaprolactone: 11 bands of the coating, from the tables alone\n")
    assert "Clear: 3299 (amide A + O-H stretch), 1635 (amide I)" in text
    assert "measure it before relying on a band" in text


def test_a_material_on_itself_has_no_clear_band_and_tolerance_widens_collisions():
    listed = rows_of(band_listing(coating="PLA", substrate="PLA", form="csv"))
    assert all(row["beside"] != "clear" for row in listed)
    assert "Clear: none of at least medium strength." in band_listing(coating="PLA", substrate="PLA")
    narrow, wide = (
        sum(
            r["beside"] == "clear"
            for r in rows_of(band_listing(coating="gelatin", substrate="PCL", tolerance=t, form="csv"))
        )
        for t in (0.0, 60.0)
    )
    assert wide < narrow


def test_own_tables_are_listed(tmp_path):
    own = tmp_path / "mine.csv"
    own.write_text(
        "material,low,typical,high,strength,vibration,source,checked\n"
        "house coating,1500,1510,1520,m,aromatic ring stretch,our laboratory 2024,read\n",
        encoding="utf-8",
    )
    assert "our laboratory 2024 (read: the user's table)" in band_listing("house coating", tables=[own])


@pytest.mark.parametrize(
    ("arguments", "error", "message"),
    [
        (
            {"query": "gelatn"},
            BandTableError,
            "no material 'gelatn' in the reference band tables; nearest: gelatin",
        ),
        ({"query": "150"}, UsageError, "150 cm-1 is outside the tables; expected 200 to 4000 cm-1"),
        ({"query": "nan"}, UsageError, "outside the tables"),
        ({"query": "3990", "tolerance": 0.0}, BandTableError, "widen --tolerance"),
        ({"coating": "gelatin"}, UsageError, "a pair needs both --coating and --substrate"),
        ({"query": "1715", "coating": "a", "substrate": "b"}, UsageError, "not both"),
        (
            {"query": "1715", "tolerance": -1.0},
            UsageError,
            "the tolerance is -1 cm-1; expected 0 to 100 cm-1",
        ),
        ({"query": "1715", "form": "xml"}, UsageError, "the form is 'xml'; expected one of text, json, csv"),
        ({"coating": "gelatin", "substrate": "PCLL"}, BandTableError, "no material 'PCLL'"),
    ],
)
def test_what_cannot_be_listed_is_one_message(arguments, error, message):
    with pytest.raises(error, match=message):
        band_listing(**arguments)


def test_listing_needs_no_numerical_library():
    code = (
        "import sys; from spectra.cli.band_listing import band_listing; band_listing('1715'); "
        "print('numpy' in sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
    )
    assert done.stdout.strip() == "False"
