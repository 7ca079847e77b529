"""Tests of sensorcal; they mirror its rooms."""
