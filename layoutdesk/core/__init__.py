"""The engine: values, geometry and layout. No Qt, no files, no clock."""
