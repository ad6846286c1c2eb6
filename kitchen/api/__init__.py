"""The kitchen for programs: the same reads and actions as the pages, over HTTP with JSON."""
