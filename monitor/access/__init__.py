"""Who may reach the pages: passwords, sessions, certificates. Heavy libraries come when needed."""
