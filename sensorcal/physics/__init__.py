"""Laws with their source and their slope: air, water, wire, circuits, curves; no uncertainty, no files."""
