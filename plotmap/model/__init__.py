"""What the project speaks about: tables, columns, findings, settings, results. No computation."""
