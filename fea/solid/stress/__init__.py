"""Stress from displacements: recovered, its error, its peaks and their places."""
