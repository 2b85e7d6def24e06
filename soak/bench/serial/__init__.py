"""Serial ports: names, the wire, and dialogues in lines of text."""
