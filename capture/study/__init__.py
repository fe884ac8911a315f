"""Gauge studies, control charts and capability: what repeated readings say about a gauge.

Pure arithmetic. Sums of readings are exact (the decimals as sent); floats begin where a square
root, a ratio or a quantile is taken.
"""
