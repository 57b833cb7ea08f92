"""From an open model to rooms, obstacles and the ceilings it holds."""
