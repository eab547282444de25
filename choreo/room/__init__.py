"""Room: clearance, failsafe stops, no return, keep-out, the fit on the site: whether a plan may be run there."""
