"""Small SVG charts."""
