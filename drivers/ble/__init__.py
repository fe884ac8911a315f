"""Bluetooth LE: instruments that send by radio, on the library bleak."""
