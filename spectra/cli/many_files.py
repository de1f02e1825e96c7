"""Command options that take every following word up to the next option: ``--bare a.csv b.csv``.

The shell expands ``bare/*.csv`` into many words; an option of click takes one. The words are therefore
spread, ``--bare a.csv --bare b.csv``, before click sees them.
"""

from __future__ import annotations

from collections.abc import Iterable

import click


def spread(words: Iterable[str], options: Iterable[str]) -> list[str]:
    """Return the words with every value of one of ``options`` under an option of its own.

    Raises
    ------
    click.UsageError
        If one of ``options`` is followed by no value.

    Examples
    --------
    >>> spread(["--bare", "a", "b", "--quiet", "--neat=c", "d"], ["--bare", "--neat"])
    ['--bare', 'a', '--bare', 'b', '--quiet', '--neat', 'c', '--neat', 'd']
    """
    known, given = set(options), list(words)
    ending = given.index("--") if "--" in given else len(given)
    result, current, lacks = [], "", False
    for word in (part for raw in given[:ending] for part in _parted(raw, known)):
        if word.startswith("-") and word != "-":
            _require(lacks, current)
            current, lacks = (word, True) if word in known else ("", False)
            result += [] if current else [word]
        else:
            result += [current, word] if current else [word]
            lacks = False
    _require(lacks, current)
    return result + given[ending:]


def _parted(word: str, known: set[str]) -> list[str]:
    """Return ``--bare=a`` as two words."""
    name, equals, value = word.partition("=")
    return [name, value] if equals and name in known else [word]


def _require(lacks: bool, option: str) -> None:
    if lacks:
        raise click.UsageError(f"{option} needs at least one file, as in {option} a.csv b.csv")


class ManyFilesCommand(click.Command):
    """A command whose repeatable options take every word up to the next option."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Spread the words, then let click parse them."""
        options = (item for item in self.params if isinstance(item, click.Option) and item.multiple)
        try:
            words = spread(args, [name for item in options for name in item.opts])
        except click.UsageError as error:
            error.ctx = ctx  # so that the message can name the command
            raise
        return super().parse_args(ctx, words)
