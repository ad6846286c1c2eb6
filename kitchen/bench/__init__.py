"""Measuring the pages on a database full of made-up seasons."""
