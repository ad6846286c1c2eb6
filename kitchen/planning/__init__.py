"""Harvest days, planning jobs and the published plan."""
