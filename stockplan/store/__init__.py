"""The store: tables, sessions, rows to domain things, spreadsheets."""
