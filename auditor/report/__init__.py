"""The report model with its published JSON Schema, and the renderers that print it."""
