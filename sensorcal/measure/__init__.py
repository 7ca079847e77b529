"""Estimation, intervals, outliers and best tables: vectors and probability, no sensor in it."""
