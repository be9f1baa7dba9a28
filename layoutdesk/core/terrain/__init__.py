"""The ground's heights: surfaces, and the slope along and across rows."""
