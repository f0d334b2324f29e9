"""Faults as edits of the state, tests as conditions and quantities, codes as what they speak about."""
