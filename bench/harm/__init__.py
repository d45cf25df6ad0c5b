"""The harm campaign: everything that comes into offbook, mutated, forged and cut off, with counts.

`python -m harm --help` (with `bench` and the project's root on PYTHONPATH) runs the long campaign; a short
seeded part of it runs with the tests. Each part prints its counts: inputs, tracebacks, crashes, hangs,
the most memory, what was lost, what was orphaned, and standard output that came with an error.
"""
