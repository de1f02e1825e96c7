"""``python -m spectra`` is the command ``coatproof``."""

from spectra.cli.commands import main

main(prog_name="coatproof")
