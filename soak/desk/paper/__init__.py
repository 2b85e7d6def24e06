"""What goes out on paper: reports, their pictures, labels."""
