"""From stock and jobs to a plan: pure functions over frozen data; no files, no database."""
