"""The screens: each shows what is asked and sends an answer; everything that can be computed without them is."""
