"""What the jobs before saw of a unit, and whether the quiet since can be luck."""
