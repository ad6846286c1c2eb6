"""Commands for the command line."""
