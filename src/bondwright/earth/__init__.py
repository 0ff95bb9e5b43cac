"""Soil and electrodes."""
