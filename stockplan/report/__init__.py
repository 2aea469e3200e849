"""Plans as text, drawings and files."""
