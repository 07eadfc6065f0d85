"""Writers of the results, one a module."""
