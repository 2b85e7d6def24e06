"""When each instrument watched, what it could not see, and what is known in between."""
