"""Reading tables: every fault names file, line, cell and the expected form; one's own tables are added."""

import re

import pytest

from reference_bands import BandTableError, find, load
from reference_bands.loading import read_sources, read_table

HEAD = "material,low,typical,high,strength,shape,vibration,technique,state,source,checked,window,note"
GOOD = "PCL,1720,1728,1736,vs,,ester C=O stretch,ATR,film,our laboratory 2024,read,ours,dried"


def written(folder, *lines, name="mine.csv", encoding="utf-8"):
    path = folder / name
    path.write_bytes("\n".join(lines).encode(encoding) + b"\n")
    return path


def cells(**changed):
    """The good row with some cells changed."""
    row = dict(zip(HEAD.split(","), GOOD.split(","), strict=True)) | changed
    return ",".join(row.values())


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        (
            {"low": "17x0"},
            "mine.csv line 3, column 'low': found '17x0'; expected a wavenumber in cm-1 from 200",
        ),
        ({"high": ""}, "column 'high': found ''; expected a wavenumber"),
        ({"high": "nan"}, "column 'high': found 'nan'; expected a wavenumber"),
        ({"high": "4500"}, "column 'high': found '4500'; expected a wavenumber in cm-1 from 200 to 4000"),
        (
            {"typical": "1700"},
            "column 'typical': found '1700'; expected low <= typical <= high, here 1720 to 1736",
        ),
        ({"strength": "strong"}, "column 'strength': found 'strong'; expected one of: vs, s, m, w, v"),
        (
            {"shape": "pointed"},
            "column 'shape': found 'pointed'; expected one of: nothing, sharp, broad, shoulder",
        ),
        (
            {"vibration": "C=O wobble"},
            "column 'vibration': found 'C=O wobble'; expected parts that end in one of",
        ),
        ({"vibration": "C=O stretch + CH2"}, "column 'vibration': found 'C=O stretch + CH2'; expected parts"),
        ({"vibration": ""}, "column 'vibration': found ''; expected what vibrates and how"),
        (
            {"technique": "atr"},
            "column 'technique': found 'atr'; expected one of: nothing, ATR, transmission",
        ),
        ({"source": " "}, "column 'source': found ''; expected the key of a source, or a citation"),
        (
            {"checked": "yes"},
            "column 'checked': found 'yes'; expected one of: read, unidentified, memory, computed",
        ),
        ({"window": "wide"}, "column 'window': found 'wide'; expected one of: source, ours, memory"),
        ({"material": ""}, "column 'material': found ''; expected the name of a material"),
    ],
)
def test_a_bad_cell_is_named(tmp_path, changed, message):
    path = written(tmp_path, HEAD, GOOD, cells(**changed))
    with pytest.raises(BandTableError, match=re.escape(message)):
        load(path)


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        ([], "mine.csv: the table is empty"),
        ([HEAD.replace(",", ";")], "the first column is 'material;low;"),
        (["band,low", "a,1"], "the first column is 'band'; expected material, group, process, name"),
        ([HEAD.replace(",source", "")], "line 1: the table lacks column 'source'; expected material, low"),
        ([HEAD + ",colour"], "line 1: the table has the unknown column 'colour'"),
        ([HEAD + ",note"], "line 1: the table repeats the column 'note'"),
        ([HEAD, GOOD + ",more"], "mine.csv line 2: found 14 cells; expected 13: material, low"),
        ([HEAD, GOOD, "PCL,1720"], "mine.csv line 3: found 2 cells; expected 13"),
        ([HEAD, '"PCL"x' + GOOD[3:]], "; expected commas between cells, and double quotes"),
    ],
)
def test_a_bad_form_is_named(tmp_path, lines, message):
    path = written(tmp_path, *lines) if lines else tmp_path / "mine.csv"
    path.touch()
    with pytest.raises(BandTableError, match=re.escape(message)):
        load(path)


def test_a_file_that_is_not_there_or_not_text_is_one_message(tmp_path):
    with pytest.raises(BandTableError, match=r"none\.csv: cannot be read"):
        load(tmp_path / "none.csv")
    with pytest.raises(BandTableError, match="expected a CSV file in UTF-8"):
        load(written(tmp_path, HEAD, cells(note="naïve"), encoding="latin-1"))


def test_sources_with_an_unknown_field_are_refused(tmp_path):
    with pytest.raises(BandTableError, match=r"expected one \[key\] for each source with authors, title"):
        read_sources(written(tmp_path, "[a]", 'colour = "red"', name="sources.toml"))
    with pytest.raises(BandTableError, match=r"sources\.toml"):
        read_sources(written(tmp_path, "[a", name="sources.toml"))


def test_own_table_is_added_with_its_citation_and_the_shipped_rows_stay(tmp_path):
    """A spreadsheet may write a byte order mark, blank lines and fewer columns."""
    own = written(
        tmp_path,
        "\ufeffmaterial,low,typical,high,strength,vibration,source,checked",
        "pcl,1720,1728,1736,vs,ester C=O stretch,our laboratory 2024,read",
        ",,,,,,,",
        "house coating 7,1500,1510,1520,m,aromatic ring stretch,unger2009,read",
    )
    table = load(own)
    mine = [band for band in table.of("PCL") if band.origin == "mine.csv line 2"]
    assert [(band.material, band.typical, band.window) for band in mine] == [
        ("polycaprolactone", 1728, "ours")
    ]
    assert table.cite(mine[0]) == "our laboratory 2024 (read: the user's table)"
    assert len(table.of("PCL")) == len(load().of("PCL")) + 1
    (new,) = table.of("House Coating 7")
    assert new.origin == "mine.csv line 4"
    assert table.cite(new) == load().cite(load().near(1724, material="PCL")[0])
    assert find(1728, 0, table)[0] == mine[0]
    assert "house coating 7" not in load().materials


@pytest.mark.parametrize(
    ("cell", "citation"),
    [
        ("A. Nobody; B. Nobody 2024", "A. Nobody; B. Nobody 2024 (read: the user's table)"),
        ("our laboratory; elzein2004", "our laboratory (read: the user's table); Elzein, Nasser"),
    ],
)
def test_a_source_cell_may_be_a_citation_with_a_semicolon_or_mix_keys(tmp_path, cell, citation):
    table = load(written(tmp_path, HEAD, cells(source=cell)))
    assert table.cite(table.bands[-1]).startswith(citation)


def test_own_names_groups_and_changes(tmp_path):
    names = written(tmp_path, "name,family,synonyms", "beta glucan,polysaccharides,oat gum", name="n.csv")
    groups = written(
        tmp_path,
        "group,low,typical,high,strength,vibration,source,checked,look_for",
        "boronic ester,1300,1340,1360,s,B-O stretch,ours 2024,read,1090; 650",
        name="g.csv",
    )
    changes = written(
        tmp_path,
        "process,materials,low,typical,high,change,shift_low,shift_high,shift_checked,vibration,source,checked",
        "drying,oat gum; PCL,1720,1728,1736,shifts,-4,-2,read,ester C=O stretch,ours 2024,read",
        name="c.csv",
    )
    table = load(names, groups, changes)
    assert table.groups[-1].look_for == (1090, 650)
    assert table.changes[-1].materials == ("beta glucan", "polycaprolactone")
    assert (table.changes[-1].shift_low, table.changes[-1].shift_high) == (-4, -2)


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        (["name,family,synonyms", "glue,x,PCL"], "'PCL' already stands for 'polycaprolactone'"),
        (["name,family", "glue,"], "column 'family': found ''"),
        (
            [
                "process,materials,low,typical,high,change,shift_low,shift_high,vibration,source,checked",
                "drying,any,1720,1728,1736,shifts,3,,C=O stretch,a,read",
            ],
            "both shifts empty, or shift_low <= shift_high",
        ),
        (
            [
                "process,materials,low,typical,high,change,vibration,source,checked",
                "drying,polycaprolacton,1720,1728,1736,grows,C=O stretch,a,read",
            ],
            "mine.csv line 2: no material 'polycaprolacton' in the reference band tables; "
            "nearest: polycaprolactone",
        ),
        (
            [
                "group,low,typical,high,strength,vibration,source,checked,look_for",
                "x,1720,1728,1736,s,C=O stretch,a,read,1090; abc",
            ],
            "column 'look_for': found '1090; abc'; expected a wavenumber",
        ),
    ],
)
def test_faults_of_the_other_kinds_of_table(tmp_path, lines, message):
    with pytest.raises(BandTableError, match=re.escape(message)):
        load(written(tmp_path, *lines))


def test_a_quoted_cell_may_hold_commas_and_lines_are_counted_through_line_feeds(tmp_path):
    path = written(tmp_path, HEAD, cells(note='"dried, then\nwashed"'), cells(low="x"))
    with pytest.raises(BandTableError, match=r"mine\.csv line 4, column 'low'"):
        load(path)
    (band,) = read_table(written(tmp_path, HEAD, cells(note='"dried, then washed"')))
    assert band.note == "dried, then washed"
