"""Places of TOML keys, against the values ``tomllib`` finds and against lines counted by hand."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spectra.study.toml_lines import key_lines, line_of

EVERY_FORM = '''\
title = "a # no comment = [ ] { }"  # a comment with "quotes" and = signs
"quoted key" = 'c:\\dir'
dotted.inner . "last one" = 1.5

[one.two]   # table
list = [
  "a",  # first
  [1, 2], { deep = "x", more = { k = [3,
  4] } },
]
when = 1979-05-27 07:32:00
story = """
[not.a.table]
key = "not a key" \\" ""\\"
"""
raw = \'\'\'
[nor.this] \'\'\'
after = -1e3

[[many]]
name = "first"
[many.sub]
key = true
[[many]]
name = "second"
[many.sub]
key = false
'''

# Counted by hand in the text above.
BY_HAND = {
    ("title",): 1,
    ("quoted key",): 2,
    ("dotted",): 3,
    ("dotted", "inner", "last one"): 3,
    ("one",): 5,
    ("one", "two"): 5,
    ("one", "two", "list"): 6,
    ("one", "two", "list", 0): 7,
    ("one", "two", "list", 1): 8,
    ("one", "two", "list", 1, 1): 8,
    ("one", "two", "list", 2, "deep"): 8,
    ("one", "two", "list", 2, "more", "k", 0): 8,
    ("one", "two", "list", 2, "more", "k", 1): 9,
    ("one", "two", "when"): 11,
    ("one", "two", "story"): 12,
    ("one", "two", "raw"): 16,
    ("one", "two", "after"): 18,
    ("many", 0): 20,
    ("many", 0, "name"): 21,
    ("many", 0, "sub", "key"): 23,
    ("many", 1): 24,
    ("many", 1, "sub", "key"): 27,
}


def every_path(value, path=()):
    """Every way to a value that tomllib finds, as a slow obvious walk."""
    if isinstance(value, dict):
        pairs = value.items()
    elif isinstance(value, list):
        pairs = enumerate(value)
    else:
        return
    for key, inner in pairs:
        yield (*path, key)
        yield from every_path(inner, (*path, key))


@pytest.mark.parametrize(("path", "line"), BY_HAND.items(), ids=str)
def test_lines_are_those_counted_by_hand(path, line):
    assert key_lines(EVERY_FORM)[path] == line


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_the_paths_are_exactly_those_of_tomllib(ending):
    text = EVERY_FORM.replace("\n", ending)
    assert set(key_lines(text)) == set(every_path(tomllib.loads(text)))


def test_a_path_that_is_not_there_takes_the_line_of_the_table_around_it():
    lines = key_lines(EVERY_FORM)
    assert line_of(lines, ("one", "two", "missing", "deeper")) == 5
    assert line_of(lines, ("nothing",)) == 1


names = st.text(st.characters(min_codepoint=32, max_codepoint=0x2FF), min_size=1, max_size=6)
texts = names.filter(lambda text: "\\" not in text)


def quoted(text):
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("\x7f", "\\u007f") + '"'


@given(st.dictionaries(names, st.dictionaries(names, st.lists(texts, max_size=4), max_size=4), max_size=4))
def test_round_trip_of_written_tables(tables):
    text, expected = "", {}
    for table, keys in tables.items():
        text += f"# {table!r} = [ {{ \n[{quoted(table)}]\n"
        expected[table,] = text.count("\n")
        for key, entries in keys.items():
            text += f"\n{quoted(key)} = [\n"
            expected[table, key] = text.count("\n")
            for number, entry in enumerate(entries):
                text += f"  {quoted(entry)},\n"
                expected[table, key, number] = text.count("\n")
            text += "]\n"
    assert set(expected) == set(every_path(tomllib.loads(text)))
    assert dict(key_lines(text)) == expected
