"""What did the sensor see? Samples become a trace, nodes and passes through a compression."""
