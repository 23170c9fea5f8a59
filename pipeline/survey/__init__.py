"""Files from the field to a network of segments, nodes and obstacles."""
