"""Virtual sets with hidden faults, and many of them.

The set is real circuit physics and knows nothing of how the tool estimates: whoever judges the tool must not share its
model. Only `runner` and `door` may import the engine.
"""
