"""A whole bench in one file, back from it, and what may be cleared because it is in one."""
