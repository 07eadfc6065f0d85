"""Self-describing tools that the command line, Python and a GIS host share."""
