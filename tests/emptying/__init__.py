"""Lets a test that commits be cleaned up after, though some tables refuse to lose rows."""
