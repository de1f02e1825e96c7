"""Tables of the report.

In: a Verification. Out: tables of finished text.
"""
