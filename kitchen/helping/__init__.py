"""Who can help, when and where."""
