"""From plot values to compartments, classes, species, strata and the survey."""
