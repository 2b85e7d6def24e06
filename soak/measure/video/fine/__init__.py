"""Fine faults of a picture: a lost colour lane, sparkle, torn lines, and the card's own blocks."""
