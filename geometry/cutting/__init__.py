"""From plates to what the cutter needs: blanks, holes, drawings, sheets."""
