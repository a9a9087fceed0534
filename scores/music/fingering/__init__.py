"""Fingering: how it is typed and kept, what cannot be, what it costs a given hand, and what to propose."""
