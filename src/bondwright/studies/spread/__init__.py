"""Studies of sites with quantities that are ranges: the range of the answers, and what matters."""
