"""Simulated builds with mistakes in them: an invented engine, its gauges, and what goes wrong."""
