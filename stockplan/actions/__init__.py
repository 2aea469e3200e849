"""What people do: each action joins store, planner, checker and reports, and knows no terminal.

Planner, spreadsheets and database are slow to import, so every action imports what it needs when it runs.
"""
