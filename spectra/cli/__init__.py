"""The command line.

In: words. Out: files, lines and an exit status.
"""

from spectra.cli.commands import main as main
