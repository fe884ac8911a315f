"""Learning an unknown gauge: from a few presses at known sizes to a profile.

Pure: it is fed with (size, bytes) pairs and knows no port, clock or file.
"""
