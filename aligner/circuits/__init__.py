"""Physics of a superheterodyne's tuned circuits: pure functions and small frozen types, SI units throughout.

One module a subject. Modules that need no numpy or scipy import neither, so that they can be had at once:

reals            the type of "a number or an array of them"
superhet         oscillator, received frequency, image, capacitance ratio
counter          what a counter displays, and what it means
tank             a tuned circuit with or without padder, and its inverses
laws             tuning laws between two end values, and the varactor's power law
tables           tuning laws from tables: gang, varactor, and the fit of a power law
resonance        the universal resonance curve, both ways
wand             what a small change of inductance does
exact_pair       two adjusters, two points, each touched once
tracking         tracking error at a point and over a band
padding          two-point and three-point tracking in closed form
nominal          values that meet targets before anything is measured, and the tracking they give
solve            the same numerically, for any of coil, trimmer and padder
minimax          the best tracking points
preferred        E series of preferred values
response         responses: single, coupled, cascaded, ceramic; level and group delay
coupled          two circuits with mutual inductance, exactly
features         peak, centre, widths, ripple and symmetry of a response
poles            a response given by its poles alone, whatever circuits they belong to
candidates       one way to explain readings of a response, and how sure that makes its features
pole_fit         poles fitted to levels
response_fit     a response fitted to a handful of levels: of a kind, or of poles alone
s_curve          the S-curve of an FM detector, and its fit
settle           warm-up: an exponential settle fitted, or "cannot tell yet"
uncertain        a value with its uncertainty
"""
