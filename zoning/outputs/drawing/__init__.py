"""Still drawings as SVG: the plan, its legend and labels."""
