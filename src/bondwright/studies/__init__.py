"""Questions put to the network: faults, stray current, and what a tie changes."""
