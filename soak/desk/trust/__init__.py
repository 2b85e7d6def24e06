"""Who signed a file, and what a sealed folder holds."""
