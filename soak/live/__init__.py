"""What the operator sees while a soak runs."""
