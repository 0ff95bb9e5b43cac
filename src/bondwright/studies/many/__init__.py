"""Studies that fall into pieces: done here, by several processes, or on a Dask cluster."""
