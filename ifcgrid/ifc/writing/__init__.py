"""From ceilings to entities of an open model, and out again."""
