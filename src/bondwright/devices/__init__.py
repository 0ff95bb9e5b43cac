"""What overcurrent devices do with a current: time bands."""
