"""The map page: one HTML file that needs no network."""
