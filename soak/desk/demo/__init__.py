"""The demo: an invented workshop that refurbishes digital-signage players."""
