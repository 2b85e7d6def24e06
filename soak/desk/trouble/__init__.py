"""Troubles of a bench, each with what mends it."""
