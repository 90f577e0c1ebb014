"""Specimens: inputs with answers known by construction. Invented here; nothing in them comes from a real print."""
