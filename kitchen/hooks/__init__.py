"""Programs outside that are told, at an address of theirs, when jars are due."""
