"""What a bench can see: proving a fixture, teaching it, looking through recordings."""
