"""Hard files, made anew for each test, with what they hold: ways in which laboratories write spectra.

The curves are films computed from published optical constants (CC0, ``data/optical_constants``), absorbance
``k`` times wavenumber, so that nothing here shares code with the package. Each case says what reading it must
come to: ``read`` right, ``read or refuse``, ``refuse``, or ``refuse or warn``; never wrong without a word.
"""

import tests.hardcases.abscissae
import tests.hardcases.columns
import tests.hardcases.containers
import tests.hardcases.labelled
import tests.hardcases.marks
import tests.hardcases.ordinates
import tests.hardcases.shapes
import tests.hardcases.surroundings
import tests.hardcases.traps  # noqa: F401  (each enters its cases)
from tests.hardcases.making import CASES as CASES
from tests.hardcases.making import Case as Case
