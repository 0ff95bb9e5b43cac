"""The page: the site on screen, to be looked at, changed and asked.

A thin layer over what computes: it keeps a working copy of one site, turns questions of the
browser into calls of the studies, and answers in JSON. The browser part lies in ``static``.
"""
