"""From caliper and girth-tape field sheets to checked stand figures, a GeoPackage and a map."""
