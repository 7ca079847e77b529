"""A second maker of invented engine starts, with habits of its own, to score the judgement of a first start.

Nothing here is measured and nothing is shared with the project's own simulator: other equations, other constants,
other pilots, other panels. `day` draws engine, weather and plan; `plant` runs the engine; `mischief` draws what is
wrong; `panel` turns true values into shown ones; `paper` writes the files. Modelled on trade practice, no source
beyond the formulas named.
"""
