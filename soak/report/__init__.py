"""What goes with the sale: content as data, then pages."""
