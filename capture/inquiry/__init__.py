"""Answers computed on demand from the folded state, in two halves.

``…_asked`` collects what a question needs; it is quick and runs where the state is. ``…_answer``
does the work on that alone, wherever there is time for it. Nothing here is recorded or held.
"""
