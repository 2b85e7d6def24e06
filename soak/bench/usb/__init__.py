"""USB as the kernel shows it: devices, their links, and events about both."""
