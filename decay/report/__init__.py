"""Three renderers of one analysis: text, JSON document, picture. No physics and no decisions."""
