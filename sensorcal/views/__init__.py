"""Words, pictures and pages: ink and labels; every number on them was computed elsewhere."""
