"""Is it right: judges a ceiling by measuring it again; never imports the solver."""
