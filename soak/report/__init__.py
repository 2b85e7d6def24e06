"""The report of a job: what it says, as data, and the pages and files made from that."""
