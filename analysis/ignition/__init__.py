"""Where do spark and drive gear belong? Static timing, the strobe, the distributor's drive."""
