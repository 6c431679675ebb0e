"""What an ask for a peak says beside where and how much, word for word: the virtual set leaves it out."""

COUNT_TURNS = " Count the turns from where it stands now."

EQUAL_FALL = ", as the middle between two settings of equal fall"
"""How a fine peak is found."""

PEAKED_CORE = (
    " Of two peaks take the outer peak, unless the maker's sheet says otherwise; of only one, with the core in the "
    "middle of the coil, say that it is at its end of travel."
)
"""How a core shows that it is at its limit while it is peaked (common practice, no source)."""
