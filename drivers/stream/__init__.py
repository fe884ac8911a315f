"""Pulls cut out of a stream of torque samples. Pure: no clock, no port, no loop."""
