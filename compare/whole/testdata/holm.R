p <- list(c(0.01, 0.02, 0.03, 0.005), c(0.049, 0.001, 0.5, 0.012, 0.012), c(0.9))
f <- function(x) paste0("[", paste(sprintf("%.17g", x), collapse = ","), "]")
cat("-- inputs.json --\n{\"p\":[", paste(sapply(p, f), collapse = ","), "]}\n", sep = "")
cat("-- expected.json --\n{\"holm\":[", paste(sapply(p, function(x) f(p.adjust(x, "holm"))), collapse = ","), "]}\n", sep = "")
