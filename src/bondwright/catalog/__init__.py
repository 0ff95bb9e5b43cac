"""Facts of the trade as data files, each with its source: sizes, conductors, raceways, rule tables.

Read them through the modules: :mod:`~bondwright.catalog.sizes`,
:mod:`~bondwright.catalog.conductors`, :mod:`~bondwright.catalog.raceways`,
:mod:`~bondwright.catalog.tables`, :mod:`~bondwright.catalog.parameters`,
:mod:`~bondwright.catalog.sources`.
"""
