"""The shared kitchen: its members, canners, harvest days and records."""
