"""Checks, one file each: they observe and never decide."""
