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
    "Not modelled: tyres and grip, slope, wind, drivers' and controllers' errors, stops by failsafe, "
    "clearance margins, people on the site."
)
