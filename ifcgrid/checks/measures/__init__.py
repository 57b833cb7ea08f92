"""What rules measure: geometry and forces of a ceiling as it stands, without any limit."""
