"""Panels for a living notebook: boxes, one button, one picture. They hold no formula."""
