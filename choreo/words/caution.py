"""What every plan says about itself."""

CAUTION = (
    "This plan is advice. Site rules, local codes and the responsible test-safety staff decide. "
    "An independent means of stopping every mover must exist and be tested before the run."
)

WHO_REACTS = (
    "The plan supposes that the subject's own system does nothing. If it brakes or steers, the others "
    "carry on as planned once launched."
)

NOT_MODELLED = (
    "Not modelled: tyres beyond the friction and slope of the site file, braking and cornering at once, loss of "
    "steering, wind, bodies that leave their paths after touching, movers that roll on when a trigger fails, "
    "drivers' and controllers' errors beyond the path and position errors asked for, people and traffic on the "
    "site."
)
