"""The units of the bench over the years."""
