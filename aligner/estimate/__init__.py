"""What the readings tell of the circuits, how sure that is, and where the adjusters should stand.

Theory of operation
-------------------
Nothing here needs a component value. Every circuit is held in scaled form, so that its unknowns are what readings
determine. With z the place on the scale ("the frequency that should be received here"), u(z) the tuning element's
capacitance in units of its value in mid-band, and F the circuit's own frequency in mid-band,

    y(z) = (F / f(z))^2 = exp(l) * [ v / (1 + s v) + b ] * exp(d(z)),        v = u(z) + a

l is what a coil changes (ln of the inductance), a and b what a trimmer changes (across the tuning element, across the
coil), s what a padder changes (its elastance), and d a small smooth discrepancy (bend of the gang, mismatch of diodes,
self-capacitance): a Gaussian process with a prior width. Without a padder s and b are nought and y = exp(l) (u + a):
a coil multiplies y by one factor at every place, a trimmer adds one amount.

`frame` finds u(z), F and the priors from the procedure alone. `events` is what happened: an adjuster moved (with or
without counted turns), a resonance seen (read, or known to so much of the circuit's width because a level was peaked on
a known generator), a fall from a known peak. Each movement is an unknown of its own with a wide prior; where turns were
counted, a soft equation (movement = mean effect per turn * turns) ties it to the adjuster's effect, which is an unknown
too, its sense included, and how it changes along the travel: a core does most half way in, and its effect is a bell.
A circuit may also drift by itself: the oscillator, pulled by signal circuits that are turned and with time, and what
is locked. Each drift adds a small amount to ln y, even over the scale or not (`drifting`); the next reading tells of
it, and until then it only widens what is said.
`fit` solves all of it by least squares with priors (`descent`: Gauss-Newton, damped along narrow valleys, analytic
Jacobian), weighs down readings that the rest contradicts, and gives the covariance. Where senses or sides are open
there are several solutions (`modes`); one that the covariance of a simpler solution prices too high is not sought, a
search that cannot come near the best is given up, those without looks are kept while only looks are added, and all are
followed from where they were while readings of the oscillator move their places by little. `stand` says what follows
from a fit at places of the scale, and keeps it while nobody turns or reads the circuit; `belief` answers questions of
the result, `best` finds the settings of the adjusters that make the greatest error least, `ahead` prices peaks before
they are made. Circuits that share no adjuster are fitted by themselves, the oscillator first, because the place of a
signal circuit's point ("received p") is where the oscillator truly is.
"""
