"""The unit's starts: which were made, which came up, how long they took."""
