"""Verbs of the command line, thin over the desk."""
