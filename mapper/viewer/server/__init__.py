"""The page's server: what the page at the wing asks for, and the one way in for what it records."""
