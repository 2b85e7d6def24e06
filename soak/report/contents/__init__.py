"""What a report says: a soak's facts in the order of a page, in words."""
