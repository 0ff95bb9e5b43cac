"""What a code edition asks of a site: one module per subject, pure functions, each with its clause.

- :mod:`~bondwright.rules.inputs`: supply conductors and protective devices, kept apart by type.
- :mod:`~bondwright.rules.jumpers`: main, system and supply-side bonding jumpers.
- :mod:`~bondwright.rules.electrodes`: electrode conductors and the electrodes themselves.
- :mod:`~bondwright.rules.equipment`: equipment grounding conductors.
- :mod:`~bondwright.rules.ties`: where neutral and metal belong together, and where not.
- :mod:`~bondwright.rules.states`: ties counted in every operating state.
- :mod:`~bondwright.rules.grounding`: grounded corners, high legs, impedances, zigzags.
- :mod:`~bondwright.rules.piping`: bonds of pipe and steel.
- :mod:`~bondwright.rules.paths`: whether a fault has a metal path back.
- :mod:`~bondwright.rules.protection`: ground-fault protection of equipment.

Every rule has a permanent id, listed with its clauses in ``data/rules.yaml``.
"""
