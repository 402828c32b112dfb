"""Pages of the planning room."""
