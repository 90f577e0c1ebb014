"""beadwright: find out why a filament print failed, prove it, and keep the shop in order."""

__version__ = "0.1.0"
