x <- split(sleep$extra, sleep$group)
t <- t.test(x[[1]], x[[2]])
m <- sapply(x, mean); v <- sapply(x, function(a) var(a)/length(a)); d <- sapply(x, length) - 1
cat(sprintf('-- inputs.json --\n{"estimate":[%.17g,%.17g],"variance":[%.17g,%.17g],"df":[%d,%d]}\n', m[1], -m[2], v[1], v[2], d[1], d[2]))
cat(sprintf('-- expected.json --\n{"estimate":%.17g,"se":%.17g,"df":%.17g,"low":%.17g,"high":%.17g}\n', m[1]-m[2], t$stderr, t$parameter, t$conf.int[1], t$conf.int[2]))
