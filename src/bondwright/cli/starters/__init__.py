"""Starter files that the command line writes."""
