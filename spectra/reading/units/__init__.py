"""Which units the two columns of a file are in: words of the header first, then the values.

In: two columns and the words around them. Out: a unit for each, and what was assumed.
"""
