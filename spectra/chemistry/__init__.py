"""Chemistry: did the bands stay where and as strong as they must be.

In: levelled spots and a reference. Out: band findings and a verdict.
"""
