"""Where is top dead centre, and how sure is that? The fit, its doubts, and other ways."""
