"""Data of the page."""
