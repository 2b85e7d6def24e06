"""What the operator does, one file a thing; the only place that wires everything together."""
