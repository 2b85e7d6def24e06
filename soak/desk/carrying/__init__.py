"""Packs of files that a unit copies, and what came back of them."""
