"""Findings and history in, belief out."""
