"""Apart: which spectrum or specimen does not belong to its group, what it looks like and what it costs.

In: one group's stack and what the coatings look like. Out: names, words' values and costs; nothing dropped.
"""
