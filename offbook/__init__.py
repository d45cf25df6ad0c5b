"""offbook takes a speech from the page to word-perfect, offline, on the performer's own machine.

The package is laid out in the order of the work, one module (or family of modules) a stage; see
DEVELOPERS.md for the map. A module imports only what comes before it on that map.
"""

__version__ = "0.1.0"
