"""From recordings and readings of an engine to one physical cause, and the next test.

Importing this package loads nothing but this line; `ARCHITECTURE.md` says where what is.
"""

__version__ = "0.1.0"
