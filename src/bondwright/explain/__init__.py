"""Results told in plain words, for an electrician and an apprentice."""
