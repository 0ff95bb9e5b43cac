"""Plans by IEC 60364: the answers to :class:`bondwright.plan.family.Family`."""
