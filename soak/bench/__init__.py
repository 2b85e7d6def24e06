"""Fixtures, model sheets and the drivers of real instruments."""
