"""Every row of the shipped tables: form, sources, words, and numbers from outside the tables."""

import csv
import re
import subprocess
import sys
from collections import Counter
from dataclasses import replace

import pytest

from reference_bands import BandTableError, load
from reference_bands.coverage import coverage
from reference_bands.loading import read_sources, read_table
from reference_bands.records import CHECKED, HIGHEST, LOWEST, MODES, STRENGTHS, WINDOWS
from reference_bands.table import BandTable
from tests.places import ROOT

TABLES = ROOT / "reference_bands" / "tables"
TABLE = load()
RANGES = (*TABLE.bands, *TABLE.groups)
ROWS = (*RANGES, *TABLE.changes)


def test_every_row_of_every_file_is_looked_at():
    texts = [path.read_text(encoding="utf-8") for path in TABLES.glob("*.csv")]
    assert len(ROWS) + len(TABLE.names) == sum(len(list(csv.reader(text.splitlines()))) - 1 for text in texts)
    assert len(TABLE.bands) >= 900
    assert len(TABLE.groups) >= 120
    assert len(TABLE.changes) >= 90


def faults_of(row):
    """What is wrong with a row, in words."""
    if not LOWEST <= row.low <= row.centre <= row.high <= HIGHEST or row.high <= row.low:
        yield "window"
    if row.checked not in CHECKED or row.window not in WINDOWS:
        yield "checked or window"
    if not row.sources or not set(row.sources) <= set(TABLE.sources):
        yield "source"
    if not all(part.endswith(MODES) for part in row.vibration.replace(" or ", " + ").split(" + ")):
        yield "vibration"
    if getattr(row, "strength", "m") not in STRENGTHS:
        yield "strength"


def test_every_row_is_sane():
    assert [(row.origin, fault) for row in ROWS for fault in faults_of(row)] == []


@pytest.mark.parametrize(
    ("fault", "change"),
    [
        ("window", {"typical": 1800.0}),
        ("window", {"low": 100.0, "typical": 150.0, "high": 160.0}),
        ("checked or window", {"checked": "believed"}),
        ("source", {"source": ""}),
        ("source", {"source": "nobody1900"}),
        ("vibration", {"vibration": "C=O wobble"}),
        ("strength", {"strength": "very"}),
    ],
)
def test_the_sanity_of_rows_can_fail(fault, change):
    assert fault in list(faults_of(replace(TABLE.of("PCL")[0], **change)))


def test_a_read_row_has_a_source_that_was_read_and_a_computed_one_its_constants():
    for row in ROWS:
        ways = {TABLE.sources[key].read for key in row.sources}
        known = {key for key in row.sources if TABLE.sources[key].identified and TABLE.sources[key].read}
        if row.checked == "read":
            assert known, row.origin
        if row.checked == "unidentified":
            assert ways - {""}, row.origin
            assert not known, row.origin
        if row.checked == "computed":
            assert ways == {"optical constants (CC0 data)"}, row.origin
    assert Counter(row.checked for row in ROWS).keys() == set(CHECKED)


def test_computed_rows_stand_apart():
    by_file = {
        path.name: {row.checked for row in read_table(path) if hasattr(row, "checked")}
        for path in TABLES.glob("*.csv")
    }
    assert by_file.pop("computed.csv") == {"computed"}
    assert by_file.pop("computed_elsewhere.csv") == {"computed"}
    assert all("computed" not in words for words in by_file.values())
    assert len(by_file) >= 15


def test_memory_is_shown_wherever_it_is_cited():
    recalled = [
        row for row in ROWS if row.checked == "memory" and not any(TABLE.sources[k].read for k in row.sources)
    ]
    assert len(recalled) > 300
    assert all("recalled, not read again" in TABLE.cite(row) for row in recalled)


def test_a_source_that_is_not_identified_is_never_cited_as_a_publication():
    lost = [row for row in ROWS if row.checked == "unidentified"]
    assert len(lost) >= 30
    assert all("source not identified" in TABLE.cite(row) for row in lost)
    assert {row.material for row in lost if hasattr(row, "material")} >= {"gelatin"}


# Pages that translate by machine, share other people's documents, or quote a standard second hand.
NO_SOURCE = re.compile(
    r"translat|scribd|datapdf|studylib|coek|flashcard|freezingblue|blogspot|forum|bbs|ask\."
)


def test_no_source_links_to_translated_or_shared_copies():
    assert [key for key, source in TABLE.sources.items() if NO_SOURCE.search(source.seen_at)] == []
    assert NO_SOURCE.search("https://th4.ilovetranslation.com/x")


def test_a_range_of_a_source_is_a_range():
    """The midpoint of a range is nobody's number: such rows name none."""
    ranges = [row for row in ROWS if row.typical is None]
    assert len(ranges) >= 140
    assert all(row.window == "source" for row in ranges)
    ketone = next(row for row in ranges if getattr(row, "group", "") == "ketone (conjugated)")
    assert ketone.place == f"{ketone.low:g} to {ketone.high:g}"
    assert not any("midpoint" in row.note for row in ROWS)


def test_at_least_25_materials_have_four_read_rows():
    read = Counter(band.material for band in TABLE.bands if band.checked == "read")
    assert sum(count >= 4 for count in read.values()) >= 25


def test_families_asked_for_are_there():
    named = """polylactide; polypropylene; nylon 6; polyurethane; PTFE; PVDF; PDMS; cellulose;
        cellulose acetate; chitin; chitosan; alginate; hyaluronic acid; starch; lignin; tannic acid; gelatin;
        collagen; silk I; silk II; keratin; polydopamine; apatite; calcium carbonate; silica; titania;
        zinc oxide; graphene oxide; APTES; heparin; ibuprofen; beeswax; water; ethanol; DMSO; HFIP; TFA;
        water vapour; CO2; diamond; silicone grease; skin lipid"""
    for name in named.split(";"):
        assert len(TABLE.of(name.strip())) >= 1, name
    assert len(TABLE.materials) >= 70


def test_every_source_is_used_and_every_name_has_bands():
    cited = {key for row in ROWS for key in row.sources}
    assert cited == set(TABLE.sources)
    assert set(TABLE.names) == set(TABLE.materials)


def test_a_row_that_loses_its_source_is_refused(tmp_path):
    """Empty the source cell of each band row of one shipped table in turn."""
    lines = (TABLES / "proteins.csv").read_text(encoding="utf-8").splitlines()
    column = lines[0].split(",").index("source")
    broken = 0
    for number, line in enumerate(lines[1:], start=1):
        cells = next(csv.reader([line]))
        cells[column] = ""
        path = tmp_path / "proteins.csv"
        with path.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows([*csv.reader(lines[:number]), cells, *csv.reader(lines[number + 1 :])])
        with pytest.raises(BandTableError, match=f"proteins.csv line {number + 1}, column 'source'"):
            read_table(path)
        broken += 1
    assert broken >= 50


def test_a_source_key_that_is_not_listed_is_refused():
    known = read_sources(ROOT / "reference_bands" / "sources.toml")
    del known["unger2009"]
    names = read_table(TABLES / "names.csv")
    with pytest.raises(BandTableError, match=r"polyesters.csv line \d+, column 'source': found 'unger2009'"):
        BandTable(sources=known).with_names(names).with_records(
            read_table(TABLES / "polyesters.csv"), strict=True
        )


def test_the_coverage_page_is_up_to_date():
    page = (ROOT / "reference_bands" / "COVERAGE.md").read_text(encoding="utf-8")
    assert page == coverage(TABLE)
    made = subprocess.run(
        [sys.executable, "-m", "reference_bands.coverage"], capture_output=True, cwd=ROOT, check=True
    )
    assert made.stdout.decode("utf-8").replace("\r\n", "\n") == page


def test_only_the_standard_library_is_imported():
    code = (
        "import sys, reference_bands as r; r.load(); r.find(1715); "
        "extra = {m.split('.')[0] for m in sys.modules} - set(sys.stdlib_module_names); "
        "print(sorted(m for m in extra if not m.startswith('_')))"
    )
    done = subprocess.run(
        [sys.executable, "-S", "-c", code], capture_output=True, text=True, cwd=ROOT, check=True
    )
    assert done.stdout.strip() == "['reference_bands']"


# Positions of the polystyrene film of NIST SRM 1921, as commonly quoted. From memory: the certificate's table
# was not at hand.
SRM_1921 = (842.08, 906.82, 1028.35, 1069.20, 1154.64, 1583.13, 1601.35, 2850.13, 3026.42, 3060.03, 3082.19)
NOT_IN_THE_TABLES = {842.08, 1069.20}


@pytest.mark.parametrize("position", SRM_1921)
def test_polystyrene_shows_the_bands_of_the_wavenumber_standard(position):
    near = TABLE.near(position, material="polystyrene")
    assert bool(near) == (position not in NOT_IN_THE_TABLES)


def test_named_water_vapour_lines_are_strong_lines():
    """HITRAN 2012 (Rothman et al., JQSRT 130, 4, 2013): each named line stands out of 10 cm-1 around it."""
    with (ROOT / "spectra" / "data" / "water_vapour_lines.csv").open(encoding="utf-8", newline="") as file:
        lines = [(float(nu), float(strength)) for nu, strength in list(csv.reader(file))[2:]]
    named = [row for row in TABLE.of("water vapour") if row.shape == "sharp"]
    assert [row.typical for row in named] == [1653, 1559]
    for row in named:
        around = {nu: strength for nu, strength in lines if abs(nu - row.centre) <= 5}
        assert row.distance(max(around, key=around.__getitem__)) == 0
    vapour = TABLE.of("water vapour")
    regions = [row for row in vapour if row.vibration == "rotation-vibration lines" and row.shape == ""]
    inside = sum(s for nu, s in lines if any(row.distance(nu) == 0 for row in regions))
    assert inside > 0.95 * sum(s for nu, s in lines if nu > 1000)


def test_a_name_means_one_material_and_synonyms_resolve():
    for entry in TABLE.names.values():
        for word in (entry.name, *entry.synonyms):
            assert TABLE.resolve(word) == entry.name
            assert TABLE.resolve(word.upper()) == entry.name


def test_process_changes_name_materials_of_the_tables_and_sizes_have_a_check():
    for change in TABLE.changes:
        assert change.materials
        assert change.materials == ("any",) or set(change.materials) <= set(TABLE.materials)
        assert (change.shift_low is None) == (change.shift_checked == "")
    kinds = {change.change for change in TABLE.changes}
    assert {"appears", "grows", "shrinks", "disappears", "shifts", "splits", "merges"} <= kinds
