"""Pictures from a capture card: the child process that reads it, and what travels between."""
