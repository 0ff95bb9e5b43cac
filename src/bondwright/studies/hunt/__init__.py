"""The hunt: which defect explains these readings, and which reading to take next."""
