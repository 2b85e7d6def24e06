"""Media a stick check writes to and reads from: a folder, a whole disk, past the caches."""
