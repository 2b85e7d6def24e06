"""Statistics of few failures, trends and sequential plans: numbers in, numbers out."""
