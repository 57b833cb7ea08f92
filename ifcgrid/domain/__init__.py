"""What a ceiling is: frozen data and arithmetic. No files, no IFC, no printing."""
