"""What a run writes only where it is asked to."""

ALSO = {"geoparquet": ".parquet", "geojson": ".geojson"}
"""Words of ``--also``: each is the name of a sub-folder of the results, with the ending of the files in it."""
