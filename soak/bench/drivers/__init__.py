"""Drivers of real instruments, one file each; the file name is the kind used in a fixture."""
