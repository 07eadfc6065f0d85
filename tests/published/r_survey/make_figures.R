# Figures that plotmap is compared with, made by R's package `survey` (Lumley 2010, Complex Surveys, Wiley).
#
#   Rscript make_figures.R plots.csv longleaf.csv OUT
#
# plots.csv is an invented sample of 30 plots, longleaf.csv the mapped pines of tests/data. Writes OUT: one row a
# figure, with 17 significant digits. Strata with one unit: R's options survey.lonely.psu "remove" and "certainty" count
# such a stratum as zero, "adjust" and "average" are rules of their own; here they fail, and a design that has such a
# stratum is collapsed before it is made, which is what plotmap's single_unit = "merge" does.

suppressPackageStartupMessages(library(survey))
options(survey.lonely.psu = "fail")
given <- commandArgs(trailingOnly = TRUE)
plots <- read.csv(given[1], stringsAsFactors = FALSE)
pines <- read.csv(given[2])
rows <- list()

keep <- function(design, statistic, domain, found, df = NA) {
  rows[[length(rows) + 1]] <<- data.frame(
    design = design, statistic = statistic, domain = domain,
    value = sprintf("%.17g", as.numeric(coef(found))[1]),
    se = sprintf("%.17g", as.numeric(SE(found))[1]),
    df = if (is.na(df)) "" else sprintf("%.17g", df)
  )
}

all_of <- function(name, design, domains) {
  keep(name, "mean", "", svymean(~y, design), degf(design))
  keep(name, "total", "", svytotal(~y, design), degf(design))
  keep(name, "ratio", "", svyratio(~y, ~x, design), degf(design))
  for (one in domains) {
    part <- subset(design, domain == one)
    keep(name, "mean", one, svymean(~y, part))
    keep(name, "total", one, svytotal(~y, part))
    keep(name, "ratio", one, svyratio(~y, ~x, part))
  }
}

domains <- c("north", "south", "far")

simple <- svydesign(ids = ~1, fpc = ~rep(400, nrow(plots)), data = plots)
all_of("simple", simple, domains)

weighted <- svydesign(ids = ~1, weights = ~weight, data = plots)
all_of("weighted", weighted, domains)

stratified <- svydesign(ids = ~1, strata = ~stratum, fpc = ~stratum_size, data = plots)
all_of("stratified", stratified, domains)

free <- svydesign(ids = ~1, strata = ~stratum, weights = ~weight, data = plots)
all_of("stratified, weights, no correction", free, domains)

# Stratum d is made to hold its first plot only; then it is joined with c.
few <- plots[plots$stratum != "d" | !duplicated(plots$stratum), ]
few$weight <- few$stratum_size / ave(few$weight, few$stratum, FUN = length)
few$joined <- ifelse(few$stratum == "d", "c", few$stratum)
few$joined_size <- ifelse(few$joined == "c", sum(unique(few[few$joined == "c", c("stratum", "stratum_size")])$stratum_size),
                          few$stratum_size)
collapsed <- svydesign(ids = ~1, strata = ~joined, weights = ~weight, fpc = ~joined_size, data = few)
all_of("single unit, merged", collapsed, domains)

areas <- data.frame(post = c("p", "q", "r"), Freq = c(150, 90, 160))
post <- postStratify(svydesign(ids = ~1, fpc = ~rep(400, nrow(plots)), data = plots), ~post, areas)
all_of("post-stratified", post, domains)

sizes <- data.frame(post = c("p", "q", "r"), Freq = c(61.5, 40.25, 33))
sized <- postStratify(svydesign(ids = ~1, weights = ~x, data = plots), ~post, sizes)
all_of("post-stratified, sizes as weights", sized, domains)

both <- postStratify(stratified, ~post, areas)
all_of("stratified and post-stratified", both, domains)

clustered <- svydesign(ids = ~cluster, weights = ~rep(7, nrow(plots)), fpc = ~rep(70, nrow(plots)), data = plots)
all_of("clusters", clustered, domains)

in_strata <- svydesign(ids = ~cluster, strata = ~half, weights = ~weight, data = plots, nest = TRUE)
all_of("clusters in strata", in_strata, domains)

clustered_post <- postStratify(clustered, ~post, areas)
all_of("clusters, post-stratified", clustered_post, domains)

# Quadrats of 50 m of the longleaf pines; column x < 50 is stratum a (quadrats 0 and 8), the rest b.
quadrat <- 4 * pmin(pines$y %/% 50, 3) + pmin(pines$x %/% 50, 3)
g <- sapply(0:15, function(q) sum(pi / 40000 * pines$dbh[quadrat == q]^2) / 0.25)
taken <- c(0, 8, 5, 7, 10, 13, 15)
quadrats <- data.frame(y = g[taken + 1], x = 1, stratum = c("a", "a", rep("b", 5)), size = c(4, 4, rep(12, 5)))
quadrats$domain <- ifelse(taken %in% c(0, 5, 7), "north", "south")
all_of("longleaf", svydesign(ids = ~1, strata = ~stratum, fpc = ~size, data = quadrats), c("north", "south"))

# A domain that no plot is in: what R says of it.
nowhere <- subset(stratified, domain == "nowhere")
keep("stratified", "mean", "nowhere", svymean(~y, nowhere))
keep("stratified", "total", "nowhere", svytotal(~y, nowhere))
# A kind of tree that no plot has: y is zero everywhere.
plots$y <- 0
none <- svydesign(ids = ~1, strata = ~stratum, fpc = ~stratum_size, data = plots)
keep("stratified, all zero", "total", "", svytotal(~y, none), degf(none))

# Scheaffer, Mendenhall & Ott 1986, example 6.9.
trees <- data.frame(
  x = c(12, 30, 24, 24, 18, 30, 12, 6, 36, 42), y = c(18, 42, 24, 36, 24, 36, 14, 10, 48, 54), size = 200
)
keep("scheaffer 6.9", "ratio", "", svyratio(~y, ~x, svydesign(ids = ~1, fpc = ~size, data = trees)), 9)

write.csv(do.call(rbind, rows), given[3], row.names = FALSE, quote = c(1, 2, 3))
writeLines(c(
  "what,version", paste0("R,", getRversion()), paste0("survey,", packageVersion("survey"))
), sub("[.]csv$", "_versions.csv", given[3]))
