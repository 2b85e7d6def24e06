"""A stick that the bench plays to the unit, and benches that watch what the unit does with it."""
