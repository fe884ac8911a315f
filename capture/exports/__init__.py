"""A chosen set of readings, written for other programs: CSV, JSON Lines, Parquet, QIF 3.

Each format is a module with one function from readings (as JSON, each the bytes that the API
answers with) to chunks of a file. Nothing holds the whole set: ten million readings pass through.
"""
