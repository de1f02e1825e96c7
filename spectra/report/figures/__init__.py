"""Figures of the report.

In: findings and stacks. Out: drawings.
"""
