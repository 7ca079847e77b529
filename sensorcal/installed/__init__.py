"""From the curve to the panel: the monitor's input, the table keyed into it, and its read-back."""
