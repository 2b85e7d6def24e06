"""Names of what lies in a bench's folder; of nothing that takes long to load."""

REPORTS = "reports"
"""The folder of the soaks."""
