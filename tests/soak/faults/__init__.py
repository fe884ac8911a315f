"""Makers of faults, and what must still be true after each of them.

- ``shim.c``, ``recorder``: a program's writes, syncs and answers, recorded in their order.
- ``trace``, ``disk``: what a disk may hold after a power cut at any point of such a recording.
- ``wire``: which answers had left the program by then.
- ``control``: a small writer whose faults are known, to prove that the harness finds them.
- ``ledger``: the oracle for a store of ours.
- ``gauge``: a gauge that sends presses to the service.
- ``service``: the real service as a process, and a client that counts acknowledgements.
"""
