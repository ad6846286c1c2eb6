"""Intake: what members bring, and slots outside harvest days."""
