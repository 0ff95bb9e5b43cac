"""The plan as one electrical circuit in which every metal path is a conductor."""
