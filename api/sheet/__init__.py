"""The build sheet: the document about a build that its owner keeps.

``gather`` takes from the ledger what a sheet says, all of it under one signed checkpoint.
``compose`` makes a document of it: sections of plain blocks in one language. ``pdf`` and ``html``
set that document, so that both say the same. Nothing here is imported before a sheet is asked for.
"""
