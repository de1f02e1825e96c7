"""Words and rounded numbers of the report.

In: records. Out: sentences.
"""
