"""A case: one failed print and all that is known of it, as a person writes it down."""
