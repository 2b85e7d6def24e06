"""Names of what lies in a bench's folder; of nothing that takes long to load."""

REPORTS = "reports"
"""The folder of the soaks."""
LEDGER = "ledger.sqlite"
KEPT_OF_A_BENCH = (
    LEDGER,
    "bench.toml",
    "fixtures",
    "scripts",
    "details",
    "key",
    "labels",
    "packs",
    "photographs",
    REPORTS,
)
"""All that a bench is."""
