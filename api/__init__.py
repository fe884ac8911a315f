"""The composition root: HTTP, pages, events and the command line. Imports drivers and capture."""

VERSION = "0.1.0"
