"""Seeded hostile cases: any case is made again from its field and its number.

``python -m fuzz csv 1234`` (in tests/python) runs one case again and prints its calls.
``ROOTLING_FUZZ=1000000 python -m fuzz`` runs the long profile; it goes on where it was stopped.
``ROOTLING_FUZZ_FROM`` is the number that each field begins with, for cases that no earlier run had.

- ``draw``: names, entries, counts and options to draw from
- ``fields``: one generator per field, each a function of a random source and an oracle
- ``oracle``: what every case must show; ``figures``: what the numbers of a result must keep to
- ``worker``: runs a range of cases in a process of its own; ``driver``: starts workers, catches aborts and hangs
"""
