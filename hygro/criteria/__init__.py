"""Judging a run: pure functions from a run to a criterion, and from a run to a verdict in words.

May import: errors, variables, constants.
"""
