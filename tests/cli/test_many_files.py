"""Options that take many words: against what a reader of the line would sort by hand."""

from itertools import pairwise

import click
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from spectra.cli.many_files import ManyFilesCommand, spread

ROLES = ["--bare", "--neat"]


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("", ""),
        ("study.toml", "study.toml"),
        ("study.toml --quiet", "study.toml --quiet"),
        ("--bare a", "--bare a"),
        ("--bare a b --neat c", "--bare a --bare b --neat c"),
        ("--bare a --neat c --bare b d", "--bare a --neat c --bare b --bare d"),
        ("--bare=a b", "--bare a --bare b"),
        ("--bare a --out x y", "--bare a --out x y"),
        ("--bare a -q b", "--bare a -q b"),
        ("--bare a - b", "--bare a --bare - --bare b"),
        ("--bare a -- --neat", "--bare a -- --neat"),
        ("--out=--bare a", "--out=--bare a"),
    ],
)
def test_words_go_to_the_option_before_them(line, expected):
    assert spread(line.split(), ROLES) == expected.split()


@pytest.mark.parametrize("line", ["--bare", "--bare --neat a", "--neat a --bare --quiet", "--bare -- a"])
def test_an_option_without_a_word_is_named(line):
    with pytest.raises(click.UsageError, match="--bare needs at least one file"):
        spread(line.split(), ROLES)


words = st.text("abc./", min_size=1, max_size=4)


@given(
    st.lists(
        st.tuples(st.sampled_from([*ROLES, "--quiet"]), st.lists(words, min_size=1, max_size=4)), max_size=6
    )
)
def test_no_word_is_lost_or_moved(parts):
    line = [word for option, values in parts for word in (option, *values)]
    found = spread(line, ROLES)
    assert [word for word in found if word not in ROLES] == [word for word in line if word not in ROLES]
    for option in ROLES:
        expected = [value for name, values in parts for value in values if name == option]
        assert [b for a, b in pairwise(found) if a == option] == expected


def test_a_command_gets_the_words_and_its_other_parameters():
    @click.command(cls=ManyFilesCommand)
    @click.argument("study", required=False)
    @click.option("--bare", multiple=True)
    @click.option("--out")
    def command(**given):
        click.echo(repr(given))

    result = CliRunner().invoke(command, ["--bare", "a b.csv", "c.csv", "--out", "x", "s.toml"])
    assert result.output.strip() == "{'bare': ('a b.csv', 'c.csv'), 'out': 'x', 'study': 's.toml'}"
