"""What evidence shows and will show: scripts explained, counts, lives and lengths."""
