"""``python -m spectra`` is the command ``coatproof``."""

from spectra.cli import main

main(prog_name="coatproof")
