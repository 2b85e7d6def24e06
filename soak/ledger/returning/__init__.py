"""What is known of units like this one and of those that came back."""
