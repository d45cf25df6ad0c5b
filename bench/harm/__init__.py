"""The harm campaign: everything that comes into offbook, mutated, forged or cut off, with counts.

`python -m harm --help` (with `bench` and the project's root on PYTHONPATH) runs the long campaign; a short
part of it, with a seed, runs with the tests. Each part prints its counts: inputs, tracebacks, crashes,
hangs, the most memory, what was lost, which files have no row, and standard output beside an error.
"""
