"""The search for a good day: options, a fast decoder, improvement over it, and proven bounds."""
