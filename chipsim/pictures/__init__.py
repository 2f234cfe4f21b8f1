"""Pictures: ``draw_*(thing, ax=None) -> artist``; they compute nothing but the layout of the page."""
