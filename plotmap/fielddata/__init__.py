"""From a survey folder to typed tables and findings."""
