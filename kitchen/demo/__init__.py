"""A kitchen of our own invention, to try everything on."""
