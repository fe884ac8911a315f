"""QIF 3 results (ISO 23952): an XML document that programs for inspection data read.

What is said, and how, follows the standard's schema files, version 3.0.0.
"""
