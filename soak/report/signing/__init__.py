"""Who signed a report, and the short form of it that a code holds."""
