"""Renderers: each shows every document, in a terminal, as a page, in a notebook."""
