"""A Bluetooth adapter without a radio, and gauges on it, for a real Bluetooth library on Linux."""
