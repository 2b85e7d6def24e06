"""What came of the night: shown, judged, compared."""
