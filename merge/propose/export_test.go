package propose

// What the scenarios, which stand outside the package, have in common with its own tests.
var AsLog, Applied, Quantile = asLog, applied, quantile
