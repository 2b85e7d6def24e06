"""What a soak's records amount to: spans, starts, losses, holes, heat; no verdict."""
