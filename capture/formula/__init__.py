"""Plain arithmetic over named quantities, for derived quantities in specs."""
