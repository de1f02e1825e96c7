"""Looking up by name, wavenumber and words."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reference_bands import Band, BandTableError, GroupRange, find, load, materials

TABLE = load()


@pytest.mark.parametrize(
    ("given_name", "canonical"),
    [
        ("PCL", "polycaprolactone"),
        ("Poly(ε-caprolactone)", "polycaprolactone"),
        ("nylon 6", "polyamide"),
        ("Nylon-6", "polyamide"),
        ("water", "water (liquid)"),
        ("acetic acid", "acetic acid"),
        ("chitin alpha", "alpha-chitin"),
        ("hyaluronic acid", "hyaluronan"),
        ("APTES", "aminosilane layer"),
    ],
)
def test_synonyms_resolve(given_name, canonical):
    assert TABLE.resolve(given_name) == canonical


@pytest.mark.parametrize(
    ("wrong", "nearest"),
    [
        ("polycaprolacton", "polycaprolactone"),
        ("gelatn", "gelatin"),
        ("silk", "silk fibroin"),
        ("hydroxy apatite", "hydroxyapatite"),
    ],
)
def test_an_unknown_name_gets_the_nearest(wrong, nearest):
    with pytest.raises(
        BandTableError, match=f"no material '{wrong}' in the reference band tables; nearest: .*{nearest}"
    ):
        TABLE.of(wrong)


def test_a_name_near_to_nothing_says_where_to_look():
    with pytest.raises(BandTableError, match="`coatproof bands` lists all names"):
        TABLE.of("qqqqqqqqqqqqqq")


def test_bands_of_a_material_fall_and_leave_computed_rows_aside():
    bands = TABLE.of("PMMA")
    assert [b.centre for b in bands] == sorted((b.centre for b in bands), reverse=True)
    assert {b.checked for b in bands} == {"memory"}
    assert "computed" in {b.checked for b in TABLE.of("PMMA", computed=True)}


# Eighths are exact in binary, so that adding and subtracting the tolerance agree at the very edge.
@given(
    position=st.integers(1600, 32000).map(lambda n: n / 8), tolerance=st.integers(0, 400).map(lambda n: n / 8)
)
def test_near_finds_what_a_plain_look_at_every_row_finds(position, tolerance):
    found = TABLE.near(position, tolerance)
    slow = {b.origin for b in TABLE.usual if b.low - tolerance <= position <= b.high + tolerance}
    assert {b.origin for b in found} == slow
    apart = [abs(b.centre - position) for b in found]
    assert apart == sorted(apart)


def test_find_by_number_and_by_text_that_is_a_number_agree():
    assert find(1715) == find("1715")
    assert {type(row) for row in find(1715)} == {Band, GroupRange}
    assert find(1715, 0) != find(1715, 20)


def test_find_by_material_and_by_words():
    assert find("pcl") == TABLE.of("polycaprolactone")
    rows = find("coupled amide")
    assert {row.name for row in rows} == {"aminosilane layer"}
    second = find("Amide  II")
    assert {row.vibration for row in second} == {"amide II", "rotation-vibration lines"}
    assert all("amide II" in row.vibration + row.note for row in second)
    assert {row.name for row in find("chitos")} == {"chitosan"}
    assert find("no such words anywhere") == ()


def test_materials_are_sorted_and_canonical():
    names = materials()
    assert list(names) == sorted(names)
    assert all(TABLE.resolve(name) == name for name in names)


# One textbook position each, from memory, that a chemist would check first; common practice, no source.
@pytest.mark.parametrize(
    ("position", "material"),
    [
        (1724, "polycaprolactone"),
        (1650, "zein"),
        (2917, "polyethylene"),
        (1260, "silicone"),
        (1730, "PMMA"),
        (700, "polystyrene"),
        (1030, "hydroxyapatite"),
        (872, "calcium carbonate"),
        (1201, "PTFE"),
        (1042, "DMSO"),
    ],
)
def test_a_strong_textbook_band_is_found(position, material):
    name = TABLE.resolve(material)
    assert any(band.strong for band in TABLE.near(position, 4, name))


def test_changes_of_a_material_include_those_of_any():
    changes = TABLE.changes_of("alginate")
    assert {"ionic cross-linking (calcium)", "hydration"} <= {c.process for c in changes}
    assert all(c.concerns("alginate") for c in changes)
    assert not any(c.process == "deacetylation" for c in changes)


def test_citation_says_how_it_was_checked():
    band = next(b for b in TABLE.of("PCL") if b.checked == "read")
    assert TABLE.cite(band).endswith("Applied Spectroscopy 63(9), 1034-1040, 2009 (read: abstract)")
    recalled = next(b for b in TABLE.of("PCL") if b.checked == "memory")
    assert TABLE.cite(recalled).endswith("(recalled, not read again)")
