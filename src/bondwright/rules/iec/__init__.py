"""The second family of rules: IEC 60364-4-41 and 60364-5-54 and national rules that follow them.

- :mod:`~bondwright.rules.iec.ruleset`: rule sets by name, rule ids and clauses.
- :mod:`~bondwright.rules.iec.arrangements`: TN-S, TN-C-S, TN-C, TT, IT and MEN as typed facts.
- :mod:`~bondwright.rules.iec.joins`: where neutral and earth are joined, and where not.
- :mod:`~bondwright.rules.iec.conductors`: protective and PEN conductors by the line conductor.
- :mod:`~bondwright.rules.iec.heat`: protective conductors by the heat of the fault.
- :mod:`~bondwright.rules.iec.bonding`: main protective and supplementary bonding.
- :mod:`~bondwright.rules.iec.earthing`: the earthing conductor and the sizes of electrodes.
- :mod:`~bondwright.rules.iec.times`: disconnection times and greatest loop impedances.
- :mod:`~bondwright.rules.iec.loops`, :mod:`~bondwright.rules.iec.electrode_loops` and
  :mod:`~bondwright.rules.iec.isolated`: whether a fault is disconnected, in TN, TT and IT.
- :mod:`~bondwright.rules.iec.origin`: what readings at the origin say; a broken PEN.
- :mod:`~bondwright.rules.iec.outbuildings`: how an outbuilding may be earthed.
- :mod:`~bondwright.rules.iec.family`: the same in the shape that a plan asks for.

Sentences speak this family's dialect: protective conductor, PE, PEN, earthing, main earthing
terminal, main protective bonding. The local rules and the network operator's conditions go
before anything here.
"""
