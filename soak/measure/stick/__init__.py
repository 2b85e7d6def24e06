"""What comes back from a stick: patterns, sectors, capacity, carried files."""
