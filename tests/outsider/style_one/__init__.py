"""Style one: a flat tray composed as reflectance times light; painted bands; warped Voronoi breaks."""
