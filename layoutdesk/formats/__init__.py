"""Everything that reads or writes a file or knows a coordinate system."""
