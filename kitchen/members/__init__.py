"""Kitchens, people, roles and policies."""
