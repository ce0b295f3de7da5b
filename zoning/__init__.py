"""From cone and pit readings to working depths just below the compacted layer."""
