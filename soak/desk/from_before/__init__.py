"""What earlier soaks and units bring into a new soak's header."""
