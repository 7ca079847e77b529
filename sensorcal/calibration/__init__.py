"""From settled points to a calibration: which errors are shared, what the points can claim, what they cannot."""
