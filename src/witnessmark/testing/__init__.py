"""What tests lean on: small recordings of our own making, ways of writing them down, suites that every reader passes.

May import anything; nothing outside the tests imports it.
"""
