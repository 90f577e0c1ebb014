"""Specimens: inputs with answers known by construction. Invented here; nothing in them is from a real
print.
"""
