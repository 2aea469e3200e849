"""The trade's things and rules: pure data and functions, standard library only."""
