"""How a ceiling is found: pure functions from rooms to layouts, panels, members and hangers."""
