"""How a report goes out: page, paper, pictures, record, labels."""
