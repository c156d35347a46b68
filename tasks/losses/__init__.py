"""Counting back after breakdown: what isn't there is raised at once."""
