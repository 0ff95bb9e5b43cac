"""Tables of other people: read whatever their layout, and written for them."""
