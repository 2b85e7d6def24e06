"""Write, read, recover and seal the append-only record of one soak."""
