"""Jar labels, the shelf, and the way from a lot code to all that is known of its jars."""
