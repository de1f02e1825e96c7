"""Study: what was measured, in which role, and how it is to be judged.

In: a study file or options. Out: a checked Study.
"""
