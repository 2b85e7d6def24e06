"""The four degrees of what a disturbance of the supply does to the unit."""

DEGREES = ("no effect", "recovers by itself", "needs a hand", "does not recover")
"""Degrees A to D of IEC 61000-4-11:2020, clause 9, in plain words: normal performance; loss that
ends by itself; loss that the operator ends; loss that is not recoverable."""
