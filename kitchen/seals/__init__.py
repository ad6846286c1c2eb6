"""Seal checks and reprocess offers."""
