# What R does with the cases that stand above this as `cases` and `runs`. One
# result a line: case, task, peer, milliseconds, values.
suppressMessages(library(mvtnorm))
multcomp <- suppressWarnings(suppressMessages(require(multcomp, quietly = TRUE)))
row <- function(x) paste0("[", paste(sprintf("%.17g", x), collapse = ", "), "]")
report <- function(case, task, peer, ms, values)
  cat(sprintf("{\"case\": \"%s\", \"task\": \"%s\", \"peer\": \"%s\", \"ms\": %s, \"values\": [%s]}\n",
    case$name, task, peer, row(ms), paste(sapply(values, row), collapse = ", ")))
timed <- function(f) {
  f()
  ms <- numeric(runs); values <- list()
  for (i in seq_len(runs)) {
    a <- Sys.time(); v <- f(); ms[i] <- 1e3 * as.numeric(Sys.time() - a, units = "secs")
    values[[i]] <- v
  }
  list(ms, values)
}
for (case in cases) {
  k <- length(case$t)
  corr <- matrix(case$corr, k, k)
  name <- paste("mvtnorm", packageVersion("mvtnorm"))
  x <- timed(function() sapply(abs(case$t), function(t) 1 - as.numeric(pmvt(rep(-t, k), rep(t, k), df = case$df, corr = corr))))
  report(case, "p", paste(name, "pmvt"), x[[1]], x[[2]])
  x <- timed(function() qmvt(0.95, tail = "both.tails", df = case$df, corr = corr)$quantile)
  report(case, "point", paste(name, "qmvt"), x[[1]], x[[2]])
  if (multcomp && !is.null(case$y)) {
    d <- data.frame(y = case$y, g = factor(case$g))
    m <- aov(y ~ g, d)
    x <- timed(function() summary(glht(m, linfct = mcp(g = "Dunnett")))$test$pvalues)
    report(case, "p", paste("multcomp", packageVersion("multcomp"), "glht"), x[[1]], x[[2]])
  }
}
