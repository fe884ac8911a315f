"""What is within reach of this computer and may be an instrument: cables, keyboards, radios."""
