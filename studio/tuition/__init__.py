"""Tuition: who owes what, and the papers that say so."""
