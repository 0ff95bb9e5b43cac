"""The site with every tie placed and every conductor sized.

:func:`bondwright.plan.build.plan` makes a :class:`~bondwright.plan.model.Plan` of a site;
:mod:`bondwright.plan.variants` changes one for a study.
"""
