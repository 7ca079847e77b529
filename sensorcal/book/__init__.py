"""Records: versions, bytes and hashes; it knows no formula and no colour."""
