"""Codes of sites: their ground, where it lies on earth, and grids."""

from choreo.words.catalogue.entry import Entry

SITE: dict[str, Entry] = {
    "site.outline-crosses": Entry(
        "An outline that is no polygon",
        "An outline that crosses or touches itself, or encloses nothing, has no clear inside.",
        "{what}: {why}",
        "List the corners once round in order; put separate pieces of ground into areas of their own.",
    ),
    "site.hole-outside": Entry(
        "A hole that is not inside its area",
        "A hole is cut out of the area that it belongs to.",
        "hole no. {number} of area `{area}` {why}",
        "Draw it inside the area's outline, or write it as an obstacle: those may stand anywhere.",
    ),
    "site.too-many-corners": Entry(
        "Too many corners",
        "Checks of space would take too long, and no test needs so fine an outline.",
        "the site has more than {most} corners",
        "Simplify the outlines to a few centimetres before export.",
    ),
    "site.no-area": Entry(
        "No drivable ground",
        "The site draws ground, but nothing of it is left to drive on.",
        "there is no drivable ground: {why}",
        "Add an area, or make holes and obstacles smaller.",
    ),
    "site.bad-friction": Entry(
        "A friction that no surface has",
        "Friction is the peak braking coefficient: about 0.1 on ice, 0.9 on dry asphalt.",
        "area `{area}`: a friction of {friction:g} is outside {least:g} to {most:g}",
        "Write a plain number without unit, like `0.9`.",
    ),
    "site.bad-slope": Entry(
        "A slope that no test ground has",
        "The grade is metres of rise per metre; uphill says in which direction.",
        "area `{area}`: a grade of {percent:g} % is outside 0 % to {most:g} %",
        "Write a grade from 0 % up, and turn `uphill` round for ground that falls that way.",
    ),
    "site.no-anchor": Entry(
        "Longitude and latitude without anchor",
        "GeoJSON tells places on earth; the anchor tells where the site frame lies there.",
        "`geojson` gives places in longitude and latitude, but the site has no `anchor`",
        "Add `anchor: {{longitude: 8.5 deg, latitude: 50.1 deg, bearing: 90 deg}}`, where x = 0, y = 0 lies and "
        "how the x axis bears by compass.",
    ),
    "site.anchor-missing": Entry(
        "No anchor to tell places on earth by",
        "Without it, the site frame could lie anywhere.",
        "{what} needs to know where the site lies on earth, and {where}",
        "{instead} `anchor: {{longitude: 8.5 deg, latitude: 50.1 deg, bearing: 90 deg}}`, where x = 0, y = 0 "
        "lies and how the x axis bears by compass.",
    ),
    "site.no-keep-out": Entry(
        "A plan without keep-out area",
        "The keep-out area is worked out with the plan's other room; this plan has none.",
        "the plan of `{file}` has no keep-out area",
        "Look at the plan's warnings (`choreo plan`).",
    ),
    "site.not-degrees": Entry(
        "Not a longitude or latitude in degrees",
        "Longitudes lie between -180 and 180, latitudes between -90 and 90 degrees.",
        "{what} {value} is not in degrees: it must lie from -{most:g} to {most:g}",
        "Write decimal degrees, longitude first; for metres of the site frame use `areas`.",
    ),
    "site.far-from-anchor": Entry(
        "A polygon far from the anchor",
        "Longitude and latitude are probably swapped, or the anchor is another site's.",
        "{what} lies {distance_km:.1f} km from the anchor; a site reaches at most {most_km:g} km",
        "Write longitude before latitude (RFC 7946), and check the anchor.",
    ),
    "site.bad-geojson": Entry(
        "A GeoJSON file that can't be used",
        "It must hold polygons as RFC 7946 has them, with properties that are known here.",
        "{what}: {why}",
        "{instead}",
    ),
    "site.unused-property": Entry(
        "A property that looks misspelt",
        "GeoJSON files carry properties of other tools; those not known here are not read.",
        "{what}: its property `{key}` is not used",
        "Did you mean `{near}`?",
    ),
    "site.unknown-datum": Entry(
        "A datum that is not known",
        "The datum tells on which ellipsoid longitude and latitude are meant.",
        "the anchor's datum `{datum}` {why}",
        "Write the EPSG code of a geographic system, like `EPSG:4326` (WGS 84) or `EPSG:4258` (ETRS89).",
    ),
    "site.unknown-grid": Entry(
        "A grid that can't be used here",
        "Eastings and northings need a projected system whose area of use holds the anchor.",
        "the grid `{grid}` {why}",
        "{instead}",
    ),
}
