"""Simulated units and instruments that run through the same code as real ones."""
