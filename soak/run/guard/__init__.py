"""The guard: a process of its own that owns the switch and switches off."""
