"""Where a polygon fits inside another: a search over poses that knows neither scenarios nor plans."""
