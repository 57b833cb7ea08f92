"""What people take away: one kind of file per module, each stands alone."""
