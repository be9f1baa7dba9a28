"""The program without its window."""
