"""The command that Django empties a test's database with."""
